"""A code that several cartons share shows new ones only beyond those that are known, whatever a photo is called."""

from dataclasses import replace
from itertools import permutations

import pytest

from receiving.matching import reconcile
from receiving.model import CartonKind, LabelRead, Manifest
from tests.matching.scenes import carton, manifest, read, sscc
from tests.matching.test_reconcile import names, told
from tests.spoken import in_words

EAN = "9521234567899"
TWO = manifest(carton("01", (1, 1), barcode=EAN), carton("02", (1, 2), barcode=EAN))


def ean(number: int, **where: object) -> LabelRead:
    return read(number, EAN, symbology="]E0", barcode=EAN, gtin=f"0{EAN}", **where)  # type: ignore[arg-type]


def test_a_known_cartons_own_barcode_scanned_by_hand_brings_no_other_carton() -> None:
    photo = read(1, sscc=sscc(1002), photo="p", label=1)
    result = reconcile(TWO, [photo, ean(2)])
    assert names(result.received) == ["02"]
    assert [(q.cartons, q.again) for q in result.questions] == [(("01",), ("02",))]
    assert result.short[0].asked_in == (result.questions[0].question_id,)


@pytest.mark.parametrize("photos", list(permutations(("a", "b"))))
def test_two_photos_decide_the_same_whatever_their_hashes(photos: tuple[str, str]) -> None:
    reads = [read(1, sscc=sscc(1002), photo=photos[0], label=1), ean(2, photo=photos[1], label=1)]
    result = reconcile(TWO, reads)
    assert (names(result.received), [q.cartons for q in result.questions]) == (["02"], [("01",)])


def test_two_labels_with_the_code_in_one_photo_are_two_cartons() -> None:
    reads = [ean(1, photo="p", label=1), ean(2, photo="p", label=2, x=300)]
    assert names(reconcile(TWO, reads).received) == ["01", "02"]


def test_a_label_with_the_code_beside_the_whole_label_of_a_known_carton_is_the_other_one() -> None:
    whole = [read(1, sscc=sscc(1002), photo="p", label=1), ean(2, photo="p", label=1)]
    assert names(reconcile(TWO, [*whole, ean(3, photo="p", label=2, x=300)]).received) == ["01", "02"]


def test_a_label_with_the_code_beside_an_sscc_alone_may_be_the_same_carton() -> None:
    reads = [read(1, sscc=sscc(1002), photo="p", label=1), ean(2, photo="p", label=2, x=300)]
    result = reconcile(TWO, reads)
    assert (names(result.received), [q.cartons for q in result.questions]) == (["02"], [("01",)])


def test_cartons_with_numbers_of_their_own_are_not_counted_by_a_shared_code() -> None:
    result = reconcile(TWO, [ean(1)])
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("01", "02")])


def test_of_two_shared_codes_on_one_label_it_is_of_the_cartons_that_have_both() -> None:
    """In whatever order they are read; a third carton has the first code alone."""
    both = {"code": 0, "barcode": "KIT-1", "numbers": ("LOT-7",), "kind": CartonKind.PARTS}
    expected = manifest(carton("01", code=0, barcode="KIT-1"), carton("02", **both), carton("03", **both))
    label = [
        read(1, "KIT-1", barcode="KIT-1", photo="p", label=1),
        read(2, "LOT-7", barcode="LOT-7", photo="p", label=1),
    ]
    for reads in permutations(label):
        result = reconcile(expected, reads)
        assert names(result.received) == ["02"], "which of two alike does not matter"
        assert names(result.short) == ["01", "03"]


def test_with_every_carton_known_the_code_is_seen_again() -> None:
    result = reconcile(TWO, [read(1, sscc=sscc(1001)), read(2, sscc=sscc(1002)), ean(3)])
    assert (result.complete, result.questions) == (True, ())
    assert in_words(told(result, 3)) == f"It carries barcode {EAN}: cartons 01 and 02, both are here"


def test_the_order_of_the_manifests_rows_decides_nothing() -> None:
    kits = [carton(name, code=0, barcode="KIT-1", kind=CartonKind.PARTS) for name in ("01", "02", "03")]
    scan = [read(1, barcode="KIT-1")]
    received = {tuple(names(reconcile(manifest(*rows), scan).received)) for rows in permutations(kits)}
    assert received == {("01",)}


def test_one_code_on_every_carton_takes_time_in_line_with_their_number() -> None:
    many = Manifest("SH-1", "0417", tuple(carton(f"{n:04}", code=0, barcode="KIT-1") for n in range(1, 2001)))
    reads = [read(n, barcode="KIT-1") for n in range(1, 2001)]
    result = reconcile(many, reads)
    assert (len(result.received), len(result.questions)) == (1, 1999)
    assert all(len(question.cartons) == 1 for question in result.questions)


OTHERWISE = manifest(
    carton("01", (1, 1), code=0, barcode=EAN),
    carton("02", (1, 2), code=0, barcode=EAN, section="Elm", kind=CartonKind.HEADER, open_first=True),
    carton("03", (1, 3), code=0, barcode=EAN),
)


@pytest.mark.parametrize(
    "said", [{"section": "Elm"}, {"kind": "header"}, {"open_first": True}, {"item": "IT-2"}, {"carton_n": 2}], ids=str
)
def test_one_thing_beside_a_shared_code_says_which_of_its_cartons_it_is(said: dict[str, object]) -> None:
    """Whatever it is alone: a section, a kind, the mark to open it first, an item or its number."""
    lines = [replace(each.contents[0], item=f"IT-{n}") for n, each in enumerate(OTHERWISE.cartons, 1)]
    expected = replace(
        OTHERWISE,
        cartons=tuple(replace(c, contents=(line,)) for c, line in zip(OTHERWISE.cartons, lines, strict=True)),
    )
    label = read(1, EAN, symbology="]E0", photo="p", label=1, barcode=EAN, gtin=f"0{EAN}", **said)  # type: ignore[arg-type]
    assert names(reconcile(expected, [label]).received) == ["02"]
    alone = reconcile(expected, [ean(1, photo="p", label=1)])
    assert "02" not in names(alone.received)
