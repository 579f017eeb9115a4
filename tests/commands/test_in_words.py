"""A reconciliation and its plan as a person reads them on a terminal: every block, in its order, word by word."""

from dataclasses import replace
from datetime import date

import pytest

from receiving.commands.in_words import reconciliation_in_words
from receiving.model import (
    Address,
    BayStaging,
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    Caution,
    ContentLine,
    Duplicate,
    How,
    Manifest,
    OpenFirst,
    OtherShipment,
    Over,
    OverReason,
    Question,
    Reconciliation,
    StagingPlan,
    Trip,
    TripBound,
    Unclear,
    Unreadable,
)
from receiving.model.plan import Held
from tests.spoken import verbatim

QUAD = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))
CORNER = ContentLine("Harbor", Address("Harbor", 3, 2)), ContentLine("Harbor", Address("Harbor", 4, 2))
TRAY = Carton("07", CartonKind.TRAY, contents=CORNER)
TAGS = Carton("08", CartonKind.TAGS, contents=(ContentLine("Harbor"), ContentLine("Moss")))
BOX = Carton("09", CartonKind.OTHER)
GUIDE = Carton("01", CartonKind.INSTRUCTIONS)
FOUND = Reconciliation(
    "S-1",
    "0417",
    (
        CartonFinding(TRAY, CartonState.SHORT, verbatim("")),
        CartonFinding(TAGS, CartonState.RECEIVED, verbatim(""), How.BARCODE),
        CartonFinding(BOX, CartonState.INSIDE, verbatim("")),
        CartonFinding(GUIDE, CartonState.RECEIVED, verbatim("")),
    ),
    over=(
        Over("X-1", OverReason.OTHER_STORE, ("r3",), verbatim("belongs to store 0422")),
        Over("X-2", OverReason.NOT_ON_MANIFEST, ("r4",)),
    ),
    duplicates=(Duplicate("08", "TAGS-8", ("r2", "r5"), verbatim("Both labels are on one photo.")),),
    questions=(Question("q1", ("r6",), ("07", "08"), verbatim("Is the torn label carton 07 or 08?")),),
    unreadable=(Unreadable("p1", QUAD, ""), Unreadable("p1", QUAD, ""), Unreadable("p2", QUAD, "")),
    unclear=(Unclear("?", ("r7",), verbatim("'?' says too little.")),),
    looks_like=OtherShipment("S-2", "0422", 4.0, 3, 1),
)
PLAN = StagingPlan(
    open_first=(OpenFirst("01", True), OpenFirst("02", False)),
    trips=(
        Trip(1, ("07", "08"), 20.0, ("B1", "B2"), lifted_off=("08",)),
        Trip(2, ("09",), 12.5),
    ),
    bays=(BayStaging("B1", ("07",), dug_out=("07",)), BayStaging("B2", ("08", "09"), wave=2)),
    held=(Held("10", "no bay takes it"),),
    cautions=(Caution("Keep the aisle free."), Caution("heavy", "07")),
)
MANIFEST = Manifest("S-1", "0417", (TRAY, TAGS, BOX, GUIDE), dispatch_date=date(2026, 3, 9))
PRINTED = """\
THIS PILE LOOKS LIKE SHIPMENT S-2, store 0422: 3 labels are of that one, 1 of this one. \
Check that this is the right manifest.

Shipment S-1 to store 0417, visit on Mon 9 Mar 2026
2 of 4 cartons are here, 2 missing or not seen, 2 extra, 5 to check.

Open first:
  carton 01
  carton 02, NOT FOUND

Missing:
  carton 07, tray, Harbor, column 3, row 2; Harbor, column 4, row 2

Inside an outer box, not seen:
  carton 09, other

Extra:
  X-1: another store's carton, belongs to store 0422
  X-2: not on the manifest

Two labels with one code:
  carton 08: Both labels are on one photo.

Needs a look:
  Is the torn label carton 07 or 08?
  corner.jpg: 2 labels could not be read; take a closer photo.
  p2: 1 label could not be read; take a closer photo.

Not understood:
  '?' says too little.

Here:
  carton 08, tags, Harbor, Moss (barcode)
  carton 01, instructions ()

Trips, in loading order: the first number is loaded first:
  1: 07, 08 (20.0 kg, 44.1 lb, to B1, B2); lift off 08 on the way
  2: 09 (12.5 kg, 27.6 lb)

Bays, in opening order:
  B1: 07; under cartons that are opened later: 07
  B2, wave 2: 08, 09

Stays in the back room:
  carton 10: no bay takes it

Take care:
  Keep the aisle free.
  heavy"""


def test_every_block_stands_in_its_place() -> None:
    assert str(reconciliation_in_words(FOUND, PLAN, MANIFEST, 5, {"p1": "corner.jpg"})) == PRINTED


def test_what_there_is_nothing_to_say_of_is_left_out() -> None:
    plain = Reconciliation("S-1", "0417", (CartonFinding(TAGS, CartonState.RECEIVED, verbatim(""), How.SSCC),))
    text = str(reconciliation_in_words(plain, StagingPlan(), replace(MANIFEST, dispatch_date=None), 0, {}))
    assert text == (
        "Shipment S-1 to store 0417\n1 of 1 carton is here, 0 missing or not seen, 0 extra, 0 to check.\n\n"
        "Here:\n  carton 08, tags, Harbor, Moss (sscc)"
    )


@pytest.mark.parametrize(
    ("planned", "at_least", "expected"),
    [
        (2, 2, "  Fewer cart trips are not possible."),
        (3, 2, "  At least 2 cart trips are needed; searched for about 1.5 s of computing."),
    ],
)
def test_how_good_the_plan_is_follows_its_trips(planned: int, at_least: int, expected: str) -> None:
    plan = replace(PLAN, bound=TripBound(planned, at_least), search_s=1.5)
    lines = str(reconciliation_in_words(FOUND, plan, MANIFEST, 5, {})).splitlines()
    assert lines[lines.index("  2: 09 (12.5 kg, 27.6 lb)") + 1] == expected
