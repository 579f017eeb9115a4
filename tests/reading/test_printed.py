"""The optional edge to printed text; with the extra installed, on a made label.

Printed lines as OCR gives them: suggestions, and how near they are.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from receiving.errors import MissingLibrary
from receiving.model import Address, Carton, CartonKind, Claim, Manifest, Sscc, mod10_check_digit
from receiving.reading import printed
from receiving.reading.patterns import default_patterns
from receiving.reading.printed import printed_lines
from receiving.reading.printed_text import CONFUSION, MOST_RIVALS, Nearest, claims_from_text, digits_of, ocr_available
from tests.reading.photo_made import as_file


def label() -> bytes:
    page = Image.new("L", (800, 500), 235)
    for line, text in enumerate(("COLUMN 3 ROW 2", "CARTON 7 OF 24", "(00) 095200000000000110")):
        ImageDraw.Draw(page).text((60, 60 + 110 * line), text, fill=20, font_size=44)
    return as_file(np.asarray(page))


def test_without_the_extra_the_message_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printed, "ocr_available", lambda: False)
    with pytest.raises(MissingLibrary, match=r'pip install "shipment-receiving\[ocr\]", or type'):
        printed_lines("a.png", label())


@pytest.mark.skipif(not ocr_available(), reason="the optional extra for printed text (rapidocr) is not installed")
@pytest.mark.filterwarnings("default")
def test_the_lines_of_a_label_are_read_with_their_places() -> None:
    lines = printed_lines("a.png", label())
    assert [line.text for line in lines] == ["COLUMN 3 ROW 2", "CARTON 7 OF 24", "(00) 095200000000000110"]
    assert lines[0].quad_px[0] == pytest.approx((60, 65), abs=20)


def sscc(serial):
    digits = f"1952012345{serial:07}"
    return Sscc(digits + mod10_check_digit(digits))


MANIFEST = Manifest(
    "S1",
    "0417",
    tuple(Carton(f"{n:02}", CartonKind.TRAY, sscc=sscc(n * 37), barcode=f"KX-{n * 37:04}") for n in range(1, 25)),
)

PRINTED = str(sscc(7 * 37))


def suggest(*lines):
    return claims_from_text(lines, [MANIFEST], default_patterns())


@pytest.mark.parametrize("line", [PRINTED, f"(00) {PRINTED}", f"SSCC: (00){PRINTED}", f"00 {PRINTED[0]} {PRINTED[1:]}"])
def test_an_sscc_as_printed_names_its_carton_without_cost(line):
    (found,) = suggest(line)
    assert (found.cost, found.carton, found.shipment, found.text) == (0, "07", "S1", PRINTED)
    assert found.claim == Claim(sscc=Sscc(PRINTED))
    assert found.rivals == ()


@pytest.mark.parametrize(("digit", "shape"), [tuple(pair) for pair in ("0O", "1I", "8B", "5S", "2Z", "6G")])
def test_a_confused_shape_costs_a_quarter_and_is_put_right(digit, shape):
    """The confusions that the trade names: O/0, I/1, B/8, S/5, Z/2, G/6 (common practice, no source)."""
    code = next(str(c.sscc) for c in MANIFEST if digit in str(c.sscc))
    (found,) = suggest(code.replace(digit, shape, 1))
    assert (found.cost, found.text) == (CONFUSION, code)


@pytest.mark.parametrize(
    ("line", "repaired", "address"),
    [
        ("C0LUMNA 3 F1LA 2", "COLUMNA 3 FILA 2", Address("", 3, 2)),
        ("COLUMNA l FILA O2", "COLUMNA 1 FILA 02", Address("", 1, 2)),
        ("C0LONNE 3 RANGÉE Z", "COLONNE 3 RANGÉE 2", Address("", 3, 2)),
        ("COLONNE 3 RANG S", "COLONNE 3 RANG 5", Address("", 3, 5)),
    ],
)
def test_confused_shapes_are_put_right_in_spanish_and_french_labels_too(line, repaired, address):
    (found,) = suggest(line)
    assert (found.text, found.claim.address) == (repaired, address)


@pytest.mark.parametrize(
    ("line", "of"), [("CAJA 7 DE Z4", (7, 24)), ("C0LIS N° 7 SUR 24", (7, 24)), ("BULTO 7/24", (7, 24))]
)
def test_the_number_of_a_carton_is_understood_in_spanish_and_french(line, of):
    (found,) = suggest(line)
    assert (found.claim.carton_n, found.claim.carton_total) == of


@pytest.mark.parametrize("line", ["ABRIR PR1MERO", "0UVRIR EN PREMIER"])
def test_open_first_is_put_right_in_spanish_and_french(line):
    (found,) = suggest(line)
    assert found.claim.open_first


def test_a_wrong_digit_costs_one_and_a_lost_one_too():
    wrong = PRINTED[:12] + ("9" if PRINTED[12] != "9" else "8") + PRINTED[13:]
    for line in (wrong, PRINTED[:6] + PRINTED[7:]):
        found = suggest(line)[0]
        assert (found.cost, found.carton) == (1, "07")


def test_what_fits_nearly_as_well_is_named_as_a_rival():
    between = Manifest(
        "S2", "0417", (Carton("A", CartonKind.TRAY, barcode="KX-1A"), Carton("B", CartonKind.TRAY, barcode="KX-1B"))
    )
    (found,) = claims_from_text(["KX-18"], [between])
    assert (found.carton, found.cost, found.rivals) == ("B", CONFUSION, ())
    ten = Manifest("S3", "1", tuple(Carton(str(n), CartonKind.TRAY, barcode=f"KXYZ000{n}") for n in range(10)))
    (found,) = claims_from_text(["KXYZ000X"], [ten])
    assert found.cost == 1
    assert len(found.rivals) == MOST_RIVALS


def test_an_sscc_that_is_not_expected_is_suggested_only_with_a_right_check_digit():
    not_expected = "106141411234567897"
    (found,) = suggest(not_expected.replace("0", "O"))
    assert (found.text, found.carton, found.cost) == (not_expected, "", CONFUSION)
    assert suggest("106141411234567894") == ()


def test_words_of_labels_are_put_right():
    assert suggest("C0LUMN 3 R0W Z")[0].claim.address == Address("", 3, 2)
    assert suggest("CART0N l OF Z4")[0].claim.carton_total == 24
    assert suggest("0PEN F1RST")[0].claim.open_first
    assert suggest("COLUMN 3 ROW 2")[0].cost == 0


@pytest.mark.parametrize("line", ["", "HELLO WORLD", "12345", "KX", "BOSSES OBSESS GOBS OIL", "()" * 90, "0" * 200])
def test_other_lines_suggest_nothing(line):
    assert suggest(line) == ()


def test_suggestions_stand_cheapest_first_and_once():
    found = suggest("KX-O259", PRINTED, PRINTED, "C0L 3 ROW 2")
    assert [s.cost for s in found] == sorted(s.cost for s in found)
    assert len({s.text for s in found}) == len(found) == 3


@pytest.mark.parametrize(
    ("one", "other", "distance"), [("kitten", "sitting", 3), ("saturday", "sunday", 3), ("ab", "ab", 0)]
)
def test_the_distance_is_the_edit_distance_where_no_shapes_are_alike(one, other, distance):
    """The textbook examples of Levenshtein distance (kitten/sitting 3, Saturday/Sunday 3)."""
    assert Nearest([one]).within(other, 5) == [(distance, one)]


def plain_distance(code, text):
    """Edit distance by recursion on the definition, without sharing anything."""
    row = list(range(len(text) + 1))
    for n, wanted in enumerate(code, 1):
        above, row = row, [n]
        for m, shown in enumerate(text, 1):
            alike = wanted == shown or (digits_of(wanted) and digits_of(wanted) == digits_of(shown))
            step = 0 if wanted.upper() == shown.upper() else CONFUSION if alike else 1
            row.append(min(above[m - 1] + step, above[m] + 1, row[m - 1] + 1))
    return row[-1]


CODES = st.text("012OIAB", min_size=1, max_size=6)


@given(st.sets(CODES, max_size=12), CODES, st.sampled_from([0, 0.5, 1, 2]))
def test_shared_rows_find_what_the_plain_definition_finds(codes, text, limit):
    wanted = {code: plain_distance(code, text) for code in codes}
    found = {code: cost for cost, code in Nearest(codes).within(text, limit)}
    assert found == {code: cost for code, cost in wanted.items() if cost <= limit}


@given(
    st.lists(
        st.one_of(st.text(max_size=40), st.sampled_from([PRINTED, "(OO)", "COL", "R0W l", "KX-O037", "\ud800"])),
        max_size=6,
    )
)
def test_any_lines_give_suggestions_without_an_exception(lines):
    for found in suggest(*lines):
        assert found.line in lines
        assert found.text
        assert found.cost <= 10
