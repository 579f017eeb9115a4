"""Every word of a paper comes from the catalogues or is data: papers said in a language that marks what it says.

All data here holds a Z or a digit, so that any other word outside of the marks is one that no catalogue can translate.
The marks are letters that the shipped fonts have.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from receiving.closing import (
    LabelPrint,
    bay_sheets_pdf,
    labels_pdf,
    plan_pdf,
    position_label,
    receipt_pdf,
    replacement_pdf,
    request_changes,
    show_receipt,
)
from receiving.closing.label_stock import LabelExtras
from receiving.closing.labels import carton_label
from receiving.language import LANGUAGES, language_of
from receiving.matching import Reason
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import (
    Address,
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    ContentLine,
    Damage,
    DamageNoted,
    HandOver,
    How,
    LiftAdvice,
    Manifest,
    OpenFirst,
    Over,
    OverReason,
    Place,
    Question,
    Receipt,
    Reconciliation,
    SheetItem,
    ShortDeclaration,
    Signature,
    Sscc,
    StagingPlan,
    Units,
    WorkStep,
    fact,
)
from receiving.model.contents import BaySheet, BaySheetRow
from receiving.model.replacement import Delivery, ReplacementRequest
from receiving.reading import default_patterns
from receiving.reading.claims import claim_of
from receiving.wording import address_words
from tests.closing.printed import title, words
from tests.closing.test_labels import carton
from tests.closing.test_plan_print import planned
from tests.closing.test_replacement import LAMP, RAIL, TRAY, request
from tests.staging.shipments import bay, layout
from tests.web.bare_words import CLOSE, OPEN, WORD, Bracketed, outside


class Marked(Bracketed):
    """A language of the tests; its days and moments are marked too."""

    code, open, close = "qps", "«", "»"

    def day(self, value: date) -> str:
        return f"{self.open}{super().day(value)}{self.close}"

    def moment(self, value: datetime) -> str:
        return f"{self.open}{super().moment(value)}{self.close}"


MARKED = Marked()
DATA = re.compile(r"\S*[Z0-9]\S*")


def bare(text: str) -> set[str]:
    """The words of a text that are neither said nor data."""
    unsaid = outside(text.replace(MARKED.open, OPEN).replace(MARKED.close, CLOSE)).replace("\0", " ")
    return set(WORD.findall(DATA.sub(" ", unsaid)))


def _requests() -> tuple[ReplacementRequest, ReplacementRequest]:
    there = Delivery("Zquay", "Zoe", "555", date(2026, 3, 9), "Zring")
    lines = [
        replace(line, shipment=f"Z{n}", section=section, item=f"Zi-{n}", description="Zd", remark="Zr")
        for n, (line, section) in enumerate(
            ((RAIL, "Zoak"), (replace(TRAY, item="", description=""), ""), (LAMP, "Zf"))
        )
    ]
    lines[1] = replace(lines[1], address=None, item="", description="")
    first = replace(request(*lines, delivery=there), requested_by="Zeno")
    later = replace(request(replace(lines[0], qty=9), lines[1], delivery=there, previous=first), requested_by="Zeno")
    return first, later


FIRST, LATER = _requests()
NOTHING = replace(request(previous=LATER, delivery=replace(LATER.delivery, needed_by=None)), requested_by="Zeno")

ITEMS = [
    (SheetItem(CartonKind.TRAY, f"Z{letter}", "", 2), SheetItem(CartonKind.HEADER, "", "", 1)) for letter in "tpgz"
]
ROW = BaySheetRow(Address("Zs", 1, 2), *ITEMS, ("Zc",), (("Zw", 2),))
SHEETS = (
    BaySheet("Zh", "Zt", "Zb", "Zs", (ROW, replace(ROW, waits_for=())), ((ITEMS[0][0], "Zw"),), 50.0, 50.0),
    BaySheet("Zh", "Zt", "Zb", "", (ROW,), (), 0.0, 0.0),
    BaySheet("Zh", "Zt", "", "", (ROW,), (), 0.0, 0.0),
)


def _plan(speaker: Speaker, units: Units = Units.METRIC) -> bytes:
    where = layout(bay("Z1", "Zol", 1, 2, 3), bay("Z2", "Zol", 4, 5, order=2))
    plan, manifest, _, found = planned(where=where, section="Zol")
    return plan_pdf(_with_everything(plan), manifest, where, found, units=units, speaker=speaker)


def _with_everything(plan: StagingPlan) -> StagingPlan:
    """The plan with each thing that the paper has words for; what the planner words itself is left out."""
    first = replace(plan.trips[0], stops=("Z1", "Z2"), lifted_off=("03",))
    return replace(
        plan,
        bays=tuple(replace(each, dug_out=("01",), restacked=("02",), moved=("00",)) for each in plan.bays),
        trips=(first, replace(first, by_hand=True, people=2), *plan.trips[1:]),
        open_first=(OpenFirst("90", True, ""), OpenFirst("91", False, "")),
        cautions=(),
        assumptions=(),
        held=(),
        lifting=tuple(LiftAdvice("91", way, 24.0, 12.5, None if n else 1.9) for n, way in enumerate(HandOver)),
        steps=(WorkStep(1, "Zset", ("01",)), WorkStep(2, "Zset", (), waits_for=("07",))),
        bound=replace(plan.bound, planned=plan.bound.at_least + 1),
    )


def _labelled() -> Manifest:
    places = (("Zrow", 12, 3), ("Zrow", 2, 1), ("Zlane", 2, 1), ("Zlane", 3, 1), ("Zlane", 4, 1), ("Zlane", 5, 1))
    return Manifest(
        "Z-1",
        "0417",
        (
            carton("00", CartonKind.OUTER, sscc=Sscc("195200000000000001")),
            carton(
                "02", CartonKind.PARTS, open_first=True, sscc=Sscc("195200000000000018"), outer="00", weight_kg=12.0
            ),
            carton("03", CartonKind.PARTS, *places, barcode="ZK-00412", outer="00", weight_kg=30.0),
            carton("04", CartonKind.TRAY, ("Zrow", 1, 2), weight_kg=90.0, barcode="ZK-00413"),
            carton("05", CartonKind.TRAY, ("Zrow", 1, 2)),
            carton("06", CartonKind.GRAPHIC, sscc=Sscc("106141411234567897"), numbers=("ZK-7",)),
        ),
        date(2026, 12, 3),
    )


LABELLED = _labelled()


def _receipt(speaker: Speaker) -> bytes:
    """One with every kind of line, signed, and a missing carton that was declared short."""
    where = ContentLine("Zoak", Address("Zoak", 1, 2))
    cartons = tuple(Carton(f"{n:02}", CartonKind.TRAY, contents=(where,) * n) for n in range(1, 6))
    note = "10000000-0000-4000-8000-000000000001"
    bent = DamageNoted(note, AT, "Zoe", "05", Damage.ARRIVED, False, item="Zi", remark="Zr")
    found = Reconciliation(
        "Z-1",
        "0417",
        (
            CartonFinding(cartons[0], CartonState.RECEIVED, ALONE, How.ADDRESS, evidence=("r1", "r2")),
            CartonFinding(cartons[1], CartonState.SHORT, fact(Reason.NOTHING_SHOWS_IT)),
            CartonFinding(cartons[2], CartonState.INSIDE, fact(Reason.IN_CLOSED_OUTER, outer="09")),
            CartonFinding(cartons[3], CartonState.SHORT, fact(Reason.NOTHING_SHOWS_IT)),
            CartonFinding(cartons[4], CartonState.RECEIVED, ALONE, How.ADDRESS, damage=(bent,)),
        ),
        over=(Over("Z-X", OverReason.NOT_ON_MANIFEST, ("r3",)),),
        questions=(Question("q1", ("r6",), ("02", "04"), fact(Reason.BLURRED)),),
    )
    declared = {"02": ShortDeclaration("Zoe", AT, "Zw", (Place.DOCK, Place.OVERHEAD))}
    shown = show_receipt(found, Manifest("Z-1", "0417", cartons), 3, declared)
    strokes = Signature((((100, 100), (200, 200)),), 300)
    signed = Receipt(2, AT, "Zoe", "Zr", "Zm", True, shown, signature=strokes, by_pin=True)
    return receipt_pdf(signed, speaker=speaker)


ALONE = fact(Reason.FITS_ALONE, shown="address", what=Address("Zoak", 1, 2), carton="01")
AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
PAPERS: dict[str, Callable[[Speaker], bytes]] = {
    "receipt": _receipt,
    "request": lambda speaker: replacement_pdf(FIRST, speaker=speaker),
    "revised request": lambda speaker: replacement_pdf(LATER, speaker=speaker),
    "withdrawn request": lambda speaker: replacement_pdf(NOTHING, speaker=speaker),
    "bay sheets": lambda speaker: bay_sheets_pdf(SHEETS, speaker=speaker),
    "no bay sheet": lambda speaker: bay_sheets_pdf((), speaker=speaker),
    "plan": _plan,
    "plan in pounds": lambda speaker: _plan(speaker, Units.US),
    "labels": lambda speaker: labels_pdf(LABELLED.cartons, LABELLED, LabelPrint(speaker=speaker)),
}


@pytest.mark.parametrize("name", PAPERS)
def test_a_paper_has_no_word_that_its_language_did_not_say(name: str) -> None:
    pdf = PAPERS[name](MARKED)
    assert MARKED.open in words(pdf)
    assert bare(words(pdf)) == set()
    assert bare(title(pdf)) == set()
    assert bare(words(PAPERS[name](ENGLISH))), "a paper that nobody marks is bare: this test can fail"


@pytest.mark.parametrize("name", PAPERS)
def test_a_paper_names_the_language_that_it_is_in(name: str) -> None:
    """ISO 32000-1, 14.9.2: the catalogue's entry Lang, by which it is read aloud."""
    assert b"/Lang (qps)" in PAPERS[name](MARKED)
    assert b"/Lang (en)" in PAPERS[name](ENGLISH)


@pytest.mark.parametrize("pounds", [True, False])
@pytest.mark.parametrize("one", LABELLED.cartons, ids=lambda each: str(each.carton))
def test_a_label_has_no_word_that_its_language_did_not_say(one: Carton, pounds: bool) -> None:
    """Line by line, since a line that is too long is cut at its end."""
    extras = LabelExtras(("Zender", "Zquay"), pounds=pounds)
    drawing = carton_label(one, LABELLED, extras=extras, speaker=MARKED)
    # The link below a QR code and the text of a symbol are a machine's.
    printed = [line.text for line in drawing.words]
    assert {word for text in printed for word in bare(text)} == set(), printed


def test_a_place_sticker_is_said_and_its_symbol_is_not() -> None:
    drawing = position_label(Address("Zrow", 1, 2), speaker=MARKED)
    assert {word for line in drawing.words for word in bare(line.text)} == set()
    assert drawing.symbols == position_label(Address("Zrow", 1, 2)).symbols


def test_changes_of_a_request_are_said() -> None:
    changes = request_changes(FIRST, replace(LATER, delivery=replace(LATER.delivery, contact="Zed")))
    assert len(changes) == 3
    assert {word for each in changes for word in bare(MARKED.say(each))} == set()
    assert {word for each in changes for word in bare(str(each))}


@pytest.mark.parametrize("code", LANGUAGES)
def test_what_a_label_says_in_a_language_is_understood_when_it_is_typed(code: str) -> None:
    speaker = language_of(code)
    for text in (message("COL {column} ROW {row}", column=3, row=2), address_words(Address("Zrow", 3, 2))):
        claim = claim_of(speaker.say(text), patterns=default_patterns())
        assert claim.address in (Address("", 3, 2), Address("Zrow", 3, 2)), speaker.say(text)
    assert claim_of(speaker.say(message("OPEN FIRST")), patterns=default_patterns()).open_first
