"""A stochastic model of shipments: how often the state that matching gives is the true one.

    python tests/bench/shipment_model.py [SHIPMENTS] [SEED]

Each shipment loses cartons, gains overs, has torn labels, labels seen again from a bad side, typed digits, damage.
The rates are common practice without source; they stand in `Rates` and are printed. A rep says the size of a carton
where the page asks for it, mostly rightly, and then answers each question that is left truly. Damage is noted as a
rep does it: on the carton that the page names for a label in view, picked from the list where no label can be read,
overlooked, noted twice, noted on the wrong carton or on a sound one. Columns: precision and recall of short, over and
damaged; automatic matches that are wrong; questions for each shipment. A misplaced read is explained by a wrong
carton; a misassigned carton is here by such reads alone.
"""

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from math import exp
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.matching import reconcile
from receiving.matching.catalogue import LONG, Sizes
from receiving.model import (
    Carton,
    Damage,
    DamageNoted,
    Note,
    Outcome,
    Question,
    ReadAssigned,
    Reconciliation,
    SizeClass,
    SizeStated,
)
from tests.bench.shipment_world import START, Rates, World, worlds


def sizes_stated(random: Random, world: World, questions: Sequence[Question], rates: Rates) -> Iterator[Note]:
    """A glance at the carton of each question that asks for its size."""
    by_id = {carton.carton: carton for carton in world.manifest}
    for question in questions:
        if not question.sizes or random.random() >= rates.size_stated:
            continue
        truth = world.truth[question.read_ids[0]]
        carton = by_id.get(truth) or random.choice(world.overs or list(by_id.values()))
        size = glance(random, carton, world, question.sizes, rates)
        yield from (SizeStated(f"s{r}", START + timedelta(hours=1), "Ana", r, size) for r in question.read_ids)


def glance(random: Random, carton: Carton, world: World, sizes: Sequence[SizeClass], rates: Rates) -> SizeClass:
    """What a rep says of this carton: its edges as seen are off by a share, and a finger may slip."""
    if random.random() < rates.wrong_tap:
        return random.choice(sizes)
    edges = sorted(edge for edge in (carton.length_cm, carton.width_cm, carton.height_cm) if edge is not None)
    slimness = edges[2] / edges[1] * exp(random.gauss(0, rates.glance))
    if SizeClass.LONG in sizes and slimness >= LONG:
        return SizeClass.LONG
    edge_cm = (edges[0] * edges[1] * edges[2]) ** (1 / 3) * exp(random.gauss(0, rates.glance))
    cuts_cm = Sizes.of(world.manifest).cuts_cm
    return sizes[sum(edge_cm >= cut for cut in cuts_cm)]


def damage_noted(random: Random, world: World, first: Reconciliation, rates: Rates) -> list[Note]:
    """What a rep notes of damage, looking at the cartons one after the other with the page at hand."""
    notes: list[Note] = []
    for name in sorted(world.present):
        broken = name in world.broken and random.random() >= rates.damage_overlooked
        if not broken and (name in world.broken or random.random() >= rates.sound_marked):
            continue
        for photo in range(1 + (random.random() < rates.marked_twice)):
            marked = marked_carton(random, world, first, name, rates)
            notes.append(
                DamageNoted(f"d{len(notes)}", START, "Ana", marked, Damage.ARRIVED, usable=False, photo=f"{photo:064x}")
            )
    return notes


def marked_carton(random: Random, world: World, first: Reconciliation, name: str, rates: Rates) -> str:
    """The carton that the damage of ``name`` is noted on: what the page says of a label of it, or one of the list."""
    everything = [carton.carton for carton in world.manifest]
    if random.random() < rates.slip:
        return random.choice(everything)
    read_id = next((read_id for read_id, truth in sorted(world.truth.items()) if truth == name), "")
    explanation = next((each for each in first.explanations if each.read_id == read_id), None)
    if explanation is not None and explanation.carton:
        return explanation.carton
    if random.random() >= rates.picked_wrongly:
        return name
    asked = next((question.cartons for question in first.questions if read_id in question.read_ids), ())
    return random.choice(asked or everything)


def judge(world: World, result: Reconciliation, count: Counter[str]) -> None:
    """Add this shipment to the counts of right and wrong."""
    seen = {truth for truth in world.truth.values() if truth}
    absent = {c.carton for c in world.manifest} - world.present
    short = {f.carton.carton for f in result.short}
    count["present, nothing of its label legible"] += len(world.present - seen)
    tally(count, "short", short - (world.present - seen), absent)
    seen_overs = set(world.over_of.values())
    found = {world.over_of.get(read_id, "none") for over in result.extra for read_id in over.read_ids}
    tally(count, "over", found, seen_overs)
    damaged = {f.carton.carton for f in result.cartons if any(not d.usable for d in f.damage)}
    tally(count, "damaged", damaged, world.broken)
    for explanation in result.explanations:
        if explanation.outcome in (Outcome.MATCHED, Outcome.DUPLICATE) and explanation.carton:
            count["automatic reads"] += 1
            count["misplaced reads"] += explanation.carton != world.truth[explanation.read_id]
    for found_here in result.received:
        shown = {world.truth[read_id] for read_id in found_here.evidence}
        count["misassigned cartons"] += bool(shown) and found_here.carton.carton not in shown
    count["falsely received"] += len({f.carton.carton for f in result.received} & absent)
    count["questions"] += len(result.questions)
    count["shipments with a question"] += bool(result.questions)


def tally(count: Counter[str], name: str, found: set[str], true: set[str]) -> None:
    count[f"{name} found"] += len(found)
    count[f"{name} true"] += len(true)
    count[f"{name} right"] += len(found & true)


def answers(world: World, result: Reconciliation) -> list[Note]:
    """A rep who looks: each read that is asked for is placed truly."""
    return [
        ReadAssigned(f"a{read_id}", START + timedelta(days=1), "Ana", read_id, world.truth[read_id])
        for question in result.questions
        for read_id in question.read_ids
    ]


def run(shipments: int, seed: int, rates: Rates) -> dict[str, Counter[str]]:
    """The counts for a rep who answers nothing, says sizes, and answers all that is left."""
    counts = {name: Counter[str]() for name in ("no answers", "sizes stated", "all answered")}
    random = Random(seed + 1)
    for world, elsewhere in worlds(shipments, seed, rates):
        result = first = reconcile(world.manifest, world.reads, others=elsewhere)
        notes = damage_noted(random, world, first, rates)
        for name in counts:
            if name == "sizes stated":
                notes += sizes_stated(random, world, first.questions, rates)
            if name == "all answered":
                notes += answers(world, result)
            result = reconcile(world.manifest, world.reads, notes, others=elsewhere)
            judge(world, result, counts[name])
            counts[name]["questions that ask for the size"] += sum(bool(q.sizes) for q in result.questions)
        counts["no answers"]["cartons"] += len(world.manifest.cartons)
        counts["no answers"]["reads"] += len(world.reads)
    return counts


def share(count: Counter[str], name: str, of: str) -> str:
    whole = count[f"{name} {of}"]
    return f"{count[f'{name} right'] / whole:.4f}" if whole else "-"


def table(rates: Rates, shipments: int, seed: int) -> None:
    print(rates)
    counts = run(shipments, seed, rates)
    whole = counts["no answers"]
    print(f"{shipments} shipments, {whole['cartons']} cartons, {whole['reads']} reads\n")

    def line(name: str, cells: Sequence[object]) -> None:
        print(f"{name:36}" + "".join(f"{cell!s:>16}" for cell in cells))

    line("", list(counts))
    for name in ("short", "over", "damaged"):
        for word, of in (("precision", "found"), ("recall", "true")):
            line(f"{name} {word}", [share(count, name, of) for count in counts.values()])
    for name in (
        "automatic reads",
        "misplaced reads",
        "misassigned cartons",
        "falsely received",
        "questions",
        "questions that ask for the size",
        "shipments with a question",
    ):
        line(name, [count[name] for count in counts.values()])
    line("questions per shipment", [f"{count['questions'] / shipments:.4f}" for count in counts.values()])
    print(f"present, nothing of its label legible: {whole['present, nothing of its label legible']}\n")


def main() -> None:
    shipments = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    print("Whole and torn labels\n")
    table(Rates(bad_side=0.0), shipments, seed)
    print("Whole labels also seen from a side that shows no code\n")
    table(Rates(), shipments, seed)
    print("The same, and sizes stated carelessly\n")
    table(replace(Rates(), glance=0.2, wrong_tap=0.03), shipments, seed)


if __name__ == "__main__":
    main()
