"""Whole reconciliations as they were found right, kept beside the tests, so that no upgrade judges a read otherwise.

What was received is signed for; the list must not say another thing the next day because a cost was moved. In each
scene nothing is received that is not there (the model knows what is there). Where a change is meant and better, which
``tests/bench/match_back_room.py`` counts, keep the new ones with ``python tests/matching/approved_matches.py``.
"""

import sys
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.model import Fact, Note, ReadAssigned, Reconciliation
from tests.bench.back_room_model import MORNING, Rates, Scene, build_scene
from tests.bench.match_back_room import judge, match

FOLDER = Path(__file__).with_name("approved")
CASES = {
    "usual": (1, Rates(), 20, False),
    "torn": (3, Rates(torn=0.7), 24, False),
    "torn-and-seen-twice": (4, Rates(torn=0.7, second_rep=0.9), 18, False),
    "torn-and-larger": (14, Rates(torn=0.5), 40, False),
    "much-typed": (5, Rates(torn=0.5, typed=0.4, slip=0.3), 20, False),
    "many-short": (11, Rates(torn=0.5, absent=0.25), 22, False),
    "many-photos": (7, Rates(torn=0.7, again=0.7, second_rep=0.9), 16, False),
    "shared-codes": (9, Rates(torn=0.5, shared=1.0, kit=0.3), 20, False),
    "blurred": (9, Rates(torn=0.3, blurred=0.3, product=0.3), 20, False),
    "another-pile": (10, Rates(torn=0.3), 20, True),
    "overs": (20, Rates(torn=0.4, of_siblings=0.3, relabelled=0.15), 20, False),
    "half-lines": (30, Rates(torn=0.9, half=0.7, item_typed=0.2), 14, False),
}
"""Seed, how often what happens, cartons, and whether the pile is a sibling's: scenes with questions, most of them."""


def _shown(fact: Fact) -> str:
    values = (f"{name} {_value(value)}" for name, value in fact.values)
    return " ".join((fact.reason, *values))


def _value(value: object) -> str:
    if isinstance(value, Fact):
        return f"({_shown(value)})"
    if isinstance(value, tuple | list | frozenset):
        return f"[{' '.join(map(_value, value))}]"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def in_lines(scene: Scene, found: Reconciliation) -> Iterator[str]:
    """All that is found, one line a fact; reads by their place in the scene, reasons as facts."""
    number = {raw.read_id: f"r{at}" for at, raw in enumerate(scene.reads)}

    def reads(ids: tuple[str, ...]) -> str:
        return " ".join(number[each] for each in ids)

    for raw in scene.reads:
        guided = " guided" if raw.guided else ""
        yield f"{number[raw.read_id]} {raw.source} photo {raw.photo[:8] or '-'} label {raw.label}{guided}: {raw.raw!r}"
    for one in found.cartons:
        how = f"{one.how} {one.confidence:.6g} {one.place}" if one.how else ""
        yield f"carton {one.carton.carton} {one.state} {how} by {reads(one.evidence)}: {_shown(one.why)}"
    for over in found.over:
        other = f"{over.shipment} {over.store} {over.carton} {over.sscc}"
        belongs = _shown(over.belongs_to) if over.belongs_to else ""
        yield f"over {over.raw!r} {over.why} by {reads(over.read_ids)}: {other} {belongs}"
    for twice in found.duplicates:
        yield f"duplicate {twice.carton} {twice.raw!r} by {reads(twice.read_ids)}: {_shown(twice.why)}"
    for asked in found.questions:
        ways = f"{' '.join(asked.cartons)}, again {' '.join(asked.again)}, sizes {' '.join(asked.sizes)} {asked.size}"
        yield f"question of {reads(asked.read_ids)}: {ways}: {_shown(asked.why)}"
    for unclear in found.unclear:
        yield f"unclear {unclear.raw!r} by {reads(unclear.read_ids)}: {_shown(unclear.why)}"
    for explanation in found.explanations:
        odds = "" if explanation.odds is None else f" at {explanation.odds:.6g}"
        outcome = f"{explanation.outcome} {explanation.carton}{odds}"
        yield f"{number[explanation.read_id]} is {outcome}: {_shown(explanation.why)}"
    if found.looks_like is not None:
        other = found.looks_like
        yield f"looks like {other.shipment} of {other.store}: {other.log_odds:.6g}, {other.labels} to {other.own}"


def _first_answers(scene: Scene, found: Reconciliation) -> tuple[Note, ...]:
    """What a person answers who knows the truth, where it is among the choices."""
    return tuple(
        ReadAssigned(f"{read}/answer", MORNING + timedelta(hours=1), "rep", read, scene.true_carton[read])
        for asked in found.questions
        for read in asked.read_ids
        if scene.true_carton[read] in asked.cartons
    )


def approved_text(name: str) -> str:
    """What is found in a scene, and again once the first questions are answered; never a carton that is not there."""
    seed, rates, count, wrong = CASES[name]
    scene = build_scene(seed, rates, cartons=count, wrong_manifest=wrong)
    found = match(scene)
    answered = match(scene, _first_answers(scene, found))
    assert judge(scene, found)["false receipts"] == judge(scene, answered)["false receipts"] == 0
    before, after = list(in_lines(scene, found)), list(in_lines(scene, answered))
    changed = [line for line in after if line not in set(before)]
    return "\n".join(line.rstrip() for line in (*before, "", "after answers:", *changed)) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for case in CASES:
        (FOLDER / f"{case}.txt").write_text(approved_text(case), encoding="utf-8")
