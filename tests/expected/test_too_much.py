"""Files of more than any delivery holds are refused as soon as that is known, by name and with what to do."""

from collections.abc import Callable

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import edi, manifest_table, notice, read_manifests
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, sscc, x12


def in_a_notice(*parts: str) -> bytes:
    return x12((*STANDARD[:6], *parts, *STANDARD[6:]))


def in_a_despatch(*parts: str) -> bytes:
    return edifact((*DESPATCH[:4], "CPS+1", *parts, DESPATCH[-1])).encode()


def packages_and_free_goods(number: int) -> bytes:
    """Packages that each may hold any of the goods that name none: their product is what they would make."""
    marks = [("PCI+33E", f"GIN+BJ+{sscc(n)}") for n in range(20, 20 + number)]
    packages = [part for mark in marks for part in ("PAC+1++CT", *mark)]
    named = [part for mark in marks for part in ("LIN+1++4006381333931:SRV", *mark)]
    return in_a_despatch(*packages, *named, *["LIN+1++4006381333931:SRV"] * number)


TOO_MUCH: dict[str, tuple[str, Callable[[], bytes]]] = {
    "levels": ("HL", lambda: in_a_notice(*(f"HL*{n}*1*P" for n in range(10, 60)))),
    "levels in each other": ("HL", lambda: in_a_notice(*(f"HL*{n}*{n - 1}*P" for n in range(8, 60)))),
    "lines": ("LIN", lambda: in_a_notice(*["LIN**UP*012345678905"] * 50)),
    "pack levels": ("CPS", lambda: in_a_despatch(*(f"CPS+{n}+1" for n in range(2, 60)))),
    "packs": ("PAC", lambda: in_a_despatch(*["PAC+1++CT"] * 50)),
    "lines of goods": ("LIN", lambda: in_a_despatch(*["LIN+1++4006381333931:SRV"] * 50)),
    "goods of any package": ("CPS", lambda: packages_and_free_goods(8)),
}


@pytest.mark.parametrize("name", TOO_MUCH)
def test_a_notice_of_more_than_a_truck_brings_is_refused(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    tag, made = TOO_MUCH[name]
    data = made()
    assert read_manifests("a.edi", data).manifests
    monkeypatch.setattr(edi, "MOST_IN_NOTICE", 40)
    with pytest.raises(ManifestFaults) as refused:
        read_manifests("a.edi", data)
    (fault,) = refused.value.faults
    assert fault.field == tag
    assert "more than 40 levels, packages or lines of goods" in str(fault.message)
    assert "a notice of each delivery by itself" in str(refused.value.next_step)


@pytest.mark.parametrize(
    "data",
    [
        x12((*STANDARD[:14], *(f"REF*2I*{n}" for n in range(12)), *STANDARD[14:])),
        in_a_notice(*(part for n in range(20, 32) for part in (f"HL*{n}*1*P", f"MAN*GM*{sscc(1)}"))),
    ],
)
def test_a_package_of_more_numbers_or_parts_than_any_has_is_refused(
    data: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert read_manifests("a.edi", data).manifests
    monkeypatch.setattr(edi, "MOST_OF_PACKAGE", 10)
    with pytest.raises(ManifestFaults, match="one package has more than 10 numbers or parts"):
        read_manifests("a.edi", data)


def test_a_notice_of_more_cartons_than_a_shipment_has_is_refused_before_they_are_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(notice, "MOST_CARTONS", 5)
    more = (part for n in range(10, 13) for part in (f"HL*{n}*2*P", f"MAN*GM*{sscc(n)}"))
    with pytest.raises(ManifestFaults, match="Shipment 'WAVE7' has 6 cartons; at most 5") as refused:
        read_manifests("a.edi", x12((*STANDARD[:9], *more, *STANDARD[9:])))
    assert "a shipment number of its own" in str(refused.value.next_step)


def test_a_table_is_read_no_further_than_the_carton_that_is_too_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(manifest_table, "MOST_CARTONS", 3)
    rows = "".join(f"S-1,0417,{n},{'tray' if n < 9 else 'nonsense'}\n" for n in range(1, 12))
    with pytest.raises(ManifestFaults) as refused:
        read_manifests("m.csv", f"shipment,store,carton,kind\n{rows}".encode())
    (fault,) = refused.value.faults
    assert (fault.line, fault.field) == (5, "carton")
    assert "'S-1' has more than" in str(fault.message)
