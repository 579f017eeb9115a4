"""No export runs in a spreadsheet, and what was written is read back as it was."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.expected import Kit, KitPlace, read_kit, read_manifests, write_kit_csv, write_manifest_csv
from receiving.model import Carton, CartonKind, ContentLine, Manifest
from receiving.sheets import cell_text, csv_text, safe_cell

LINK = '=HYPERLINK("https://example.com","open")'
STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@pytest.mark.parametrize("start", STARTS)
def test_a_text_that_a_spreadsheet_may_run_gets_an_apostrophe(start: str) -> None:
    (_, (cell,)) = csv.reader(io.StringIO(csv_text(["text"], [[start + "cmd"]]), newline=""))
    assert cell == "'" + start + "cmd"


def test_numbers_stay_numbers_and_nothing_stays_empty() -> None:
    assert csv_text(["a", "b", "c"], [[-3, None, 2.5]]) == "a,b,c\r\n-3,,2.5\r\n"


@given(st.text(alphabet=st.sampled_from(["'", "a", *STARTS, '"', ","])))
def test_every_text_comes_back(text: str) -> None:
    assert cell_text(safe_cell(text)) == text


def test_a_manifest_with_formulas_is_exported_without_and_read_back_equal() -> None:
    carton = Carton("-07", CartonKind.TRAY, barcode="+49", contents=(ContentLine(item=LINK, description="'=1+1"),))
    manifest = Manifest("@S", "=0417", (carton,))
    text = write_manifest_csv([manifest])
    assert not [cell for row in csv.reader(io.StringIO(text)) for cell in row if cell.startswith(STARTS)]
    assert read_manifests("m.csv", text.encode()).manifests == (manifest,)


def test_a_kit_with_formulas_is_exported_without_and_read_back_equal() -> None:
    kit = Kit((KitPlace(item=LINK, section="@home", description="-"),))
    text = write_kit_csv(kit)
    assert not [cell for row in csv.reader(io.StringIO(text)) for cell in row if cell.startswith(STARTS)]
    assert read_kit("k.csv", text.encode()) == kit
