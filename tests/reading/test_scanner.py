"""What wedge scanners do to a label is learned from two test symbols, and undone, for every usual way of sending."""

import pytest

from receiving.reading.claims import claim_of
from receiving.reading.symbology import EOT, GS, RS, TEST_ENVELOPE, ScannerFlaw, ScannerProfile, learn_scanner

SSCC = "106141411234567897"


def sent(content: str, start: str, gs: str, rs: str, eot: str, end: str) -> str:
    return start + content.replace(GS, gs).replace(RS, rs).replace(EOT, eot) + end


GS1 = f"10TEST7{GS}21A5"
WAYS = {
    "as it is": ("", "", GS, RS, EOT, ""),
    "AIM identifiers": ("]C1", "]d1", GS, RS, EOT, ""),
    "letters of a maker": ("T", "w", GS, RS, EOT, ""),
    "a prefix for all": ("#>", "#>", GS, RS, EOT, ""),
    "prefix and AIM": ("~]C1", "~]d1", GS, RS, EOT, ""),
    "stand-ins": ("", "", "~", "^", "|", ""),
    "long stand-ins": ("]C1", "]d1", "<GS>", "<RS>", "<EOT>", ""),
    "tab behind": ("", "", GS, RS, EOT, "\t"),
    "characters behind": ("]C1", "]d1", "#", RS, EOT, "$$"),
}


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS.keys())
def test_a_scanner_is_learned_and_undone(way: tuple[str, str, str, str, str, str]) -> None:
    linear, matrix, *characters = way
    learned = learn_scanner(sent(GS1, linear, *characters), sent(TEST_ENVELOPE, matrix, *characters))
    assert learned.flaws == ()
    undo = learned.profile.text_of
    claim = claim_of(undo(sent(f"00{SSCC}10L1{GS}21S9", linear, *characters)))
    assert str(claim.sscc) == SSCC
    assert ("21", "S9") in claim.elements
    plate = claim_of(undo(sent(f"[)>{RS}06{GS}1JUN123456789A1{GS}13Q7/24{RS}{EOT}", matrix, *characters)))
    assert (plate.barcode, plate.carton_n) == ("UN123456789A1", 7)
    assert ScannerProfile.of_text(learned.profile.as_text()) == learned.profile


def test_a_scanner_that_drops_gs_is_named() -> None:
    assert learn_scanner(sent(GS1, "", "", "", "", "")).flaws == (ScannerFlaw.NO_GS,)
    assert ScannerFlaw.NO_RS in learn_scanner("", sent(TEST_ENVELOPE, "", GS, "", "", "")).flaws


def test_stand_ins_that_data_may_hold_are_named() -> None:
    assert ScannerFlaw.AMBIGUOUS in learn_scanner(sent(GS1, "", "X", RS, EOT, "")).flaws
    assert (
        ScannerFlaw.AMBIGUOUS in learn_scanner(GS1.replace(GS, "~"), sent(TEST_ENVELOPE, "", "~", "~", "|", "")).flaws
    )


@pytest.mark.parametrize("line", ["", "something else", "21A510TEST7", "10TEST7" + "x" * 50 + "21A5"])
def test_a_line_of_another_symbol_is_named(line: str) -> None:
    assert ScannerFlaw.NOT_THE_SYMBOL in learn_scanner(line).flaws


def test_an_old_or_odd_cookie_is_a_plain_scanner() -> None:
    assert ScannerProfile.of_text("what=ever&gs") == ScannerProfile()
    assert ScannerProfile().text_of(f"]C100{SSCC}") == f"]C100{SSCC}"
