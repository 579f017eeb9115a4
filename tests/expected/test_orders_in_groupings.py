"""Orders inside a pack that is a mere grouping: its references are the shipment's, not lost with it."""

import pytest

from receiving.expected import read_manifests
from tests.expected.edi_messages import x12


@pytest.mark.parametrize("first", [(), ("PRF*QQ0001",)])
def test_the_reference_of_an_order_in_a_pack_without_a_number_is_the_shipments(first: tuple[str, ...]) -> None:
    segments = ["BSN*00*WAVE*20260301*0800*0001", "HL*1**S", "HL*2*1*P", "HL*3*2*O", *first, "HL*4*3*I"]
    segments += ["MAN*GM*195200000000000018", "HL*5*2*O", "PRF*QQ0002", "HL*6*5*I", "CTT*6"]
    (manifest,) = read_manifests("notice", x12(segments)).manifests
    assert ("order", "QQ0002") in manifest.references
