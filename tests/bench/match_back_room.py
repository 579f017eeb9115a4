"""How often matching is wrong in the back room of `back_room_model`, beside a plain join of code against code.

    python tests/bench/match_back_room.py --shipments 1000 --torn 0.02 0.05 0.15
    python tests/bench/match_back_room.py --invariance 2000
    python tests/bench/match_back_room.py --sensitivity 300
    python tests/bench/match_back_room.py --wrong-manifest 300
    python tests/bench/match_back_room.py --sizes 250 500 1000 2000 4000

A *false receipt* is a carton that is called here and is not. A read is *misassigned* when it is given to a carton
that it is not of. A *false over* is an extra carton, to be signed by the store manager, that is one of this shipment
or none at all. A question is *mixed* when its reads are of several cartons, and *without answer* when what is true is
not among its choices. "Answered" figures come after a person who knows the truth answered every question as the page
applies it: for all reads of the question at once; "seen again" is always one of the answers.
"""

import argparse
import math
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.matching import reconcile
from receiving.model import (
    CartonState,
    LabelRead,
    Manifest,
    Note,
    Outcome,
    ReadAssigned,
    ReadRejected,
    Reconciliation,
    Source,
)
from receiving.reading import default_patterns, interpret
from tests.bench.back_room_model import MORNING, RATE_WORDS, Rates, Scene, build_scene
from web.warming import set_apart_what_stays

Counts = Counter[str]
MOST_ROUNDS = 12
SEEN_AGAIN = "seen again"


def reads_of(scene: Scene) -> tuple[LabelRead, ...]:
    patterns = default_patterns()
    return tuple(interpret(raw, patterns) for raw in scene.reads)


def match(scene: Scene, notes: Iterable[Note] = ()) -> Reconciliation:
    return reconcile(scene.manifest, reads_of(scene), tuple(notes), others=scene.others)


def judge(scene: Scene, found: Reconciliation, *, prefix: str = "") -> Counts:
    """What is wrong in it."""
    counts: Counts = Counter()
    received = {f.carton.carton for f in found.cartons if f.state is CartonState.RECEIVED}
    counts["false receipts"] = len(received - scene.here)
    seen = {carton for read, carton in scene.true_carton.items() if carton}
    counts["seen and not received"] = len((seen & scene.here) - received)
    for explained in found.explanations:
        if explained.outcome in (Outcome.MATCHED, Outcome.DUPLICATE):
            counts["misassigned"] += explained.carton not in ("", scene.true_carton[explained.read_id])
    for over in found.extra:
        counts["false overs"] += not any(read in scene.of_siblings for read in over.read_ids)
        counts["typed overs"] += all(read in scene.typed_ids for read in over.read_ids)
    absent = {c.carton for c in scene.manifest} - scene.here
    counts["shorts"], counts["shorts listed"] = len(absent), len(absent - received)
    labels = {
        scene.label_of[r.read_id] for r in scene.reads if r.read_id in scene.of_siblings and r.raw.startswith("00")
    }
    listed = {scene.label_of[read] for over in found.extra for read in over.read_ids}
    counts["overs"], counts["overs listed"] = len(labels), len(labels & listed)
    counts["questions"] = len(found.questions)
    for asked in found.questions:
        truths = {scene.true_carton[read] for read in asked.read_ids}
        counts["mixed"] += len(truths) > 1
        counts["without answer"] += not (truths & {*asked.cartons, *received, ""})
        counts["choices"] += len(asked.cartons)
        counts["over 6 choices"] += len(asked.cartons) > 6
    return Counter({f"{prefix}{name}": count for name, count in counts.items()})


def answered(scene: Scene, found: Reconciliation) -> Reconciliation:
    """After a person who knows the truth answered what can be answered."""
    notes: list[Note] = []
    given_up: set[str] = set()
    for _ in range(MOST_ROUNDS * 10):
        asked = next((q for q in found.questions if not given_up & set(q.read_ids)), None)
        if asked is None:
            break
        truth = scene.true_carton[asked.read_ids[0]]
        at = MORNING + timedelta(hours=1, seconds=len(notes))
        if truth in {"", *asked.cartons, *asked.again}:
            notes += [ReadAssigned(f"{read}/{len(notes)}", at, "rep", read, truth) for read in asked.read_ids]
        elif any(f.carton.carton == truth for f in found.received):
            notes += [ReadRejected(f"{read}/{len(notes)}", at, "rep", read, SEEN_AGAIN) for read in asked.read_ids]
        else:
            given_up |= set(asked.read_ids)
            continue
        found = match(scene, notes)
    return found


def plain_join(scene: Scene) -> Counts:
    """Code against code, then the first open carton at the column and row: what a spreadsheet does."""
    counts: Counts = Counter()
    by_sscc = {str(c.sscc): c.carton for c in scene.manifest if c.sscc}
    by_barcode = {c.barcode: c.carton for c in scene.manifest if c.barcode}
    by_cell = {(a.column, a.row): c.carton for c in scene.manifest for a in c.addresses}
    received = set()
    for read in reads_of(scene):
        claim = read.claim
        address = claim.address
        carton = by_sscc.get(str(claim.sscc)) or by_barcode.get(claim.barcode)
        if not carton and claim.carton and scene.manifest.find(claim.carton):
            carton = claim.carton
        if not carton and address:
            carton = by_cell.get((address.column, address.row))
        if carton:
            received.add(carton)
            counts["join misassigned"] += carton != scene.true_carton[read.read_id]
    counts["join false receipts"] = len(received - scene.here)
    return counts


def run(seeds: Iterable[int], rates: Rates, *, answer: bool = True) -> Counts:
    total: Counts = Counter()
    for seed in seeds:
        scene = build_scene(seed, rates)
        found = match(scene)
        total += judge(scene, found) + plain_join(scene)
        total["shipments"] += 1
        total["any false receipt"] += bool(judge(scene, found)["false receipts"])
        if answer:
            total += judge(scene, answered(scene, found), prefix="answered ")
    return total


def _rate(total: Counts, name: str, of: str = "shipments") -> str:
    return f"{total[name] / max(1, total[of]):.3f}"


def print_table(rows: list[tuple[str, Counts]]) -> None:
    heads = (
        "false receipts", "any false receipt", "misassigned", "questions", "mixed", "without answer", "over 6 choices",
        "false overs", "typed overs", "seen and not received", "answered false receipts", "answered misassigned",
        "answered questions", "answered seen and not received", "join false receipts", "join misassigned",
    )  # fmt: skip
    print("a shipment:".ljust(32) + "".join(f"{name:>14}" for name, _ in rows))
    for head in heads:
        print(head.ljust(32) + "".join(f"{_rate(total, head):>14}" for _, total in rows))
    for name, counted, of in (
        ("recall of shorts", "shorts listed", "shorts"),
        ("recall of overs", "overs listed", "overs"),
    ):
        print(name.ljust(32) + "".join(f"{_rate(total, counted, of):>14}" for _, total in rows))


def sensitivity(count: int, rates: Rates) -> None:
    """Every rate at 0.3 and at 3 times itself."""
    print(f"{'rate':<14}{'times':>6}{'false rec.':>12}{'misassigned':>12}{'questions':>11}{'false overs':>12}")
    moved = [("as they are", 1.0, rates)]
    moved += [(name, factor, rates.scaled(name, factor)) for name in RATE_WORDS for factor in (0.3, 3.0)]
    for name, factor, each in moved:
        total = run(range(count), each, answer=False)
        figures = "".join(
            f"{_rate(total, head):>12}" for head in ("false receipts", "misassigned", "questions", "false overs")
        )
        print(f"{name:<14}{factor:>6g}{figures}")


# The same whatever the order


def fingerprint(found: Reconciliation) -> tuple[object, ...]:
    """All that a person would see of it, without regard to order."""
    return (
        tuple(sorted((f.carton.carton, f.state, f.how, f.evidence) for f in found.cartons)),
        tuple(sorted((e.read_id, e.outcome, e.carton) for e in found.explanations)),
        tuple(sorted((o.raw, o.why, tuple(sorted(o.read_ids))) for o in found.over)),
        tuple(sorted((tuple(sorted(q.read_ids)), tuple(sorted(q.cartons))) for q in found.questions)),
    )


def reordered(scene: Scene, rng: random.Random) -> Scene:
    reads = list(scene.reads)
    rng.shuffle(reads)
    return replace(scene, reads=tuple(reads))


def rehashed(scene: Scene, rng: random.Random) -> Scene:
    names: dict[str, str] = defaultdict(lambda: f"{rng.getrandbits(256):064x}")
    return replace(scene, reads=tuple(replace(r, photo=names[r.photo] if r.photo else "") for r in scene.reads))


def shuffled_manifest(scene: Scene, rng: random.Random) -> Scene:
    rows = list(scene.manifest.cartons)
    rng.shuffle(rows)
    others = list(scene.others)
    rng.shuffle(others)
    return replace(scene, manifest=replace(scene.manifest, cartons=tuple(rows)), others=tuple(others))


CHANGES: tuple[Callable[[Scene, random.Random], Scene], ...] = (reordered, rehashed, shuffled_manifest)


def invariance(count: int, rates: Rates) -> None:
    """How many shipments come out the same after each change."""
    same: Counts = Counter()
    for seed in range(count):
        scene, rng = build_scene(seed, rates), random.Random(seed)
        before = fingerprint(match(scene))
        for change in CHANGES:
            alike = fingerprint(match(change(scene, rng))) == before
            same[change.__name__] += alike
            if not alike and same[f"{change.__name__} shown"] < 3:
                same[f"{change.__name__} shown"] += 1
                print(f"  seed {seed}: {change.__name__} changes it")
    for change in CHANGES:
        print(f"{change.__name__:<20} {same[change.__name__]} of {count} the same")


def wrong_manifest(count: int, rates: Rates) -> None:
    """The pile of a sibling shipment against our manifest."""
    total: Counts = Counter()
    for seed in range(count):
        scene = build_scene(seed, rates, wrong_manifest=True)
        found = match(scene)
        total += judge(scene, found)
        total["shipments"] += 1
        total["with a false receipt"] += bool(judge(scene, found)["false receipts"])
        looks_like = getattr(found, "looks_like", None)
        total["shown"] += bool(looks_like) and looks_like.shipment == scene.wrong_manifest
    right: Counts = Counter()
    for seed in range(count):
        right["false alarms"] += bool(getattr(match(build_scene(seed, rates)), "looks_like", None))
    print(f"{count} shipments against a sibling's manifest:")
    for name in ("with a false receipt", "false receipts", "shown", "questions", "false overs"):
        print(f"  {name:<24}{total[name]}")
    print(f"  false alarms on {count} right manifests: {right['false alarms']}")


def sizes(counts: list[int], rates: Rates) -> None:
    """CPU time by the number of cartons, with the exponent from each size to the next, and from the first to the last.

    The collector of cycles is set as the served process sets it at its start: by Python's own setting it searches all
    reads and cartons again and again while they are made, which grows faster than they do.
    """
    set_apart_what_stays()
    before: tuple[int, float] | None = None
    first: tuple[int, float] | None = None
    for count in counts:
        scene = build_scene(1, rates, cartons=count)
        reads = reads_of(scene)
        best = math.inf
        for _ in range(7):
            start = time.process_time()
            found = reconcile(scene.manifest, reads, (), others=scene.others)
            _ = found.cartons, tuple(found.explanations)
            best = min(best, time.process_time() - start)
        grown = f"exponent {math.log(best / before[1]) / math.log(count / before[0]):.2f}" if before else ""
        print(f"{count:>6} cartons {len(reads):>6} reads {best * 1000:>9.1f} ms  {grown}")
        before = (count, best)
        first = first or before
    if first and before and before != first:
        print(f"from {first[0]} to {before[0]}: {math.log(before[1] / first[1]) / math.log(before[0] / first[0]):.2f}")


def typed_slips(count: int) -> None:
    """One slip in a typed SSCC of sequential serials: received right, asked, not understood, or received wrong."""
    from tests.bench.back_room_model import one_slip

    fates: dict[str, Counts] = defaultdict(Counter)
    rng = random.Random("slips")
    for seed in range(count):
        scene = build_scene(seed)
        with_sscc = [c for c in scene.manifest if c.sscc]
        for carton in rng.sample(with_sscc, min(10, len(with_sscc))):
            for kind in ("substitution", "omission", "insertion", "transposition"):
                text = one_slip(rng, str(carton.sscc), kind)
                if text == str(carton.sscc):
                    continue
                fates[kind][_fate(scene.manifest, text, carton.carton)] += 1
    for kind, fate in fates.items():
        total = sum(fate.values())
        print(f"{kind:<14}{total:>7} " + ", ".join(f"{n} {name} ({n / total:.1%})" for name, n in sorted(fate.items())))


def _fate(manifest: Manifest, text: str, carton: str) -> str:
    raw = replace(build_scene(0).reads[0], source=Source.TYPED, raw=text, symbology="", photo="", label=0)
    raw = replace(raw, quad_px=None, guided=False, alternatives=())
    found = reconcile(manifest, [interpret(raw, default_patterns())])
    if found.received:
        return "received right" if found.received[0].carton.carton == carton else "RECEIVED WRONG"
    if found.questions:
        return "asked" if carton in found.questions[0].cartons else "ASKED WITHOUT IT"
    return "EXTRA CARTON" if found.extra else "not understood"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=0)
    parser.add_argument("--torn", type=float, nargs="*", default=[0.02, 0.05, 0.15])
    parser.add_argument("--sensitivity", type=int, default=0)
    parser.add_argument("--invariance", type=int, default=0)
    parser.add_argument("--wrong-manifest", type=int, default=0)
    parser.add_argument("--slips", type=int, default=0)
    parser.add_argument("--sizes", type=int, nargs="*", default=[])
    parser.add_argument("--first-seed", type=int, default=0)
    given = parser.parse_args()
    seeds = range(given.first_seed, given.first_seed + given.shipments)
    if given.shipments:
        print_table([(f"{torn:.0%} torn", run(seeds, replace(Rates(), torn=torn))) for torn in given.torn])
    if given.invariance:
        invariance(given.invariance, Rates())
    if given.wrong_manifest:
        wrong_manifest(given.wrong_manifest, Rates())
    if given.slips:
        typed_slips(given.slips)
    if given.sensitivity:
        sensitivity(given.sensitivity, Rates())
    if given.sizes:
        sizes(given.sizes, Rates())


if __name__ == "__main__":
    main()
