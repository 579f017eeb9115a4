"""A stochastic model of shipments: how often the state that matching gives is the true one.

    python tests/bench/shipment_model.py [SHIPMENTS] [SEED]

Each shipment loses cartons, gains strays, has torn labels, labels seen again from a bad side, typed digits, damage.
The rates are common practice without source; they stand in `Rates` and are printed. A rep answers each question
truly in a second pass. Columns: precision and recall of short, over and damaged; automatic matches that are wrong;
questions for each shipment. A misplaced read is explained by a wrong carton; a misassigned carton is here by such
reads alone.
"""

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from random import Random

from receiving.matching import Elsewhere, reconcile
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    Claim,
    ContentLine,
    Damage,
    DamageNoted,
    LabelRead,
    Manifest,
    Note,
    Outcome,
    Place,
    RawRead,
    ReadAssigned,
    Reconciliation,
    Source,
    Sscc,
    mod10_check_digit,
)

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
PHOTOS = 12
SINGLE = (CartonKind.HEADER, CartonKind.GRAPHIC, CartonKind.PARTS, CartonKind.LIGHTING, CartonKind.TAGS)


@dataclass(frozen=True)
class Rates:
    """How often things happen, for each carton or label."""

    lost: float = 0.02
    stray: float = 0.005
    swapped: float = 0.002
    torn: float = 0.03
    torn_to_number: float = 0.2
    stray_torn: float = 0.03
    bad_side: float = 0.02
    typed_digits: float = 0.02
    product_code: float = 0.05
    damaged: float = 0.03
    shared_address: float = 0.1
    views: tuple[int, ...] = (1, 1, 2, 2, 3, 4)


@dataclass
class World:
    """One shipment as it truly is, and what was read of it. ``truth`` is the carton of each read, or empty."""

    manifest: Manifest
    present: set[str]
    strays: list[Carton]
    broken: set[str]
    reads: list[LabelRead] = field(default_factory=list)
    truth: dict[str, str] = field(default_factory=dict)
    stray_of: dict[str, str] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)


def sscc(serial: int) -> Sscc:
    body = f"3952{serial:013d}"
    return Sscc(body + mod10_check_digit(body))


def make_manifest(random: Random, number: int, rates: Rates) -> Manifest:
    cartons: list[Carton] = []
    cells = [(column, row) for column in range(1, 7) for row in range(1, 5)]
    random.shuffle(cells)
    for n in range(random.randint(12, 28)):
        kind = CartonKind.TRAY if random.random() < 0.7 else random.choice(SINGLE)
        address = Address(
            "Oak", *(random.choice(cells[:n]) if n and random.random() < rates.shared_address else cells[n % 24])
        )
        at = address if kind in (CartonKind.TRAY, CartonKind.GRAPHIC) else None
        lines = (ContentLine("Oak", at, f"IT-{random.randint(1000, 1999)}", qty=1),)
        cartons.append(Carton(f"{n + 1:02d}", kind, sscc(number * 100 + n), contents=lines))
    return Manifest(f"SH-{number}", f"{number % 900 + 100:04d}", tuple(cartons))


def make_world(random: Random, manifest: Manifest, other: Manifest, rates: Rates) -> World:
    lost = {c.carton for c in manifest if random.random() < rates.lost + rates.swapped}
    strays = [c for c in other if random.random() < rates.stray + rates.swapped]
    present = {c.carton for c in manifest} - lost
    broken = {name for name in sorted(present) if random.random() < rates.damaged}
    world = World(manifest, present, strays, broken)
    for carton in manifest:
        if carton.carton in present:
            show(random, world, carton, carton.carton, rates, manifest)
            if carton.carton in broken:
                note = DamageNoted(f"d{carton.carton}", START, "Ana", carton.carton, Damage.ARRIVED, usable=False)
                world.notes.append(note)
    for carton in strays:
        show(random, world, carton, "", rates, other)
    return world


def show(random: Random, world: World, carton: Carton, truth: str, rates: Rates, home: Manifest) -> None:
    """The reads of one carton that is in the pile: whole, torn, or typed; each view in a photo of its own pile side."""
    torn = random.random() < (rates.torn if truth else rates.stray_torn)
    whole = label_claim(carton, home)
    claim = torn_claim(random, carton, whole, rates) if torn else whole
    if torn and claim == Claim():
        return
    if not torn and random.random() < rates.typed_digits:
        digits = str(carton.sscc)[-5:]
        add(random, world, replace_all(barcode=digits), truth, carton, source=Source.TYPED, raw=digits)
        return
    for photo in random.sample(range(PHOTOS), random.choice(rates.views)):
        if not torn and random.random() < rates.bad_side:
            aside = replace(whole, sscc=None, carton_n=None, carton_total=None)
            add(random, world, aside, truth, carton, photo=photo)
        else:
            add(random, world, claim, truth, carton, photo=photo)
    if random.random() < rates.product_code:
        add(
            random,
            world,
            replace_all(gtin="4006381333931"),
            "",
            carton,
            symbology="]E0",
            raw="4006381333931",
            noise=True,
        )


def label_claim(carton: Carton, home: Manifest) -> Claim:
    """A logistic label: SSCC, the position where it has one, the kind and carton n of N in print."""
    address = carton.addresses[0] if carton.addresses else None
    number = int(carton.carton)
    return Claim(
        sscc=carton.sscc,
        address=address,
        section="Oak",
        kind=carton.kind.words,
        carton_n=number,
        carton_total=len(home.cartons),
    )


def torn_claim(random: Random, carton: Carton, whole: Claim, rates: Rates) -> Claim:
    """What a torn label still says: the position with or without the kind, or only carton n of N."""
    if whole.address is None or random.random() < rates.torn_to_number:
        return Claim(section="Oak", carton_n=whole.carton_n, carton_total=whole.carton_total)
    return Claim(address=whole.address, section="Oak", kind=carton.kind.words if random.random() < 0.5 else "")


def replace_all(**fields: str) -> Claim:
    return replace(Claim(), **fields)  # type: ignore[arg-type]


def add(
    random: Random,
    world: World,
    claim: Claim,
    truth: str,
    carton: Carton,
    *,
    source: Source = Source.PHOTO,
    symbology: str | None = None,
    raw: str = "",
    noise: bool = False,
    photo: int | None = None,
) -> None:
    n = len(world.reads)
    read_id = f"r{n:03d}"
    shown = photo if photo is not None else random.randrange(PHOTOS)
    name = f"photo {shown}" if source is Source.PHOTO else ""
    text = raw or (f"00{claim.sscc}" if claim.sscc else str(claim.address or claim.carton_n))
    kind = symbology if symbology is not None else "]C1" if claim.sscc else ""
    world.reads.append(
        LabelRead(
            RawRead(
                read_id,
                START + timedelta(seconds=40 * n),
                source,
                text,
                kind,
                Place.BACK_ROOM,
                "Ana",
                name,
                ((n * 200.0, 0.0), (n * 200.0 + 90, 0.0), (n * 200.0 + 90, 50.0), (n * 200.0, 50.0)) if name else None,
                n + 1 if name else 0,
            ),
            claim,
        )
    )
    world.truth[read_id] = truth
    if not truth and not noise:
        world.stray_of[read_id] = str(carton.sscc)


def judge(world: World, result: Reconciliation, count: Counter[str]) -> None:
    """Add this shipment to the counts of right and wrong."""
    seen = {truth for truth in world.truth.values() if truth}
    absent = {c.carton for c in world.manifest} - world.present
    short = {f.carton.carton for f in result.short}
    count["present, nothing of its label legible"] += len(world.present - seen)
    tally(count, "short", short - (world.present - seen), absent)
    seen_strays = set(world.stray_of.values())
    found = {world.stray_of.get(read_id, "none") for over in result.extra for read_id in over.read_ids}
    tally(count, "over", found, seen_strays)
    damaged = {f.carton.carton for f in result.cartons if any(not d.usable for d in f.damage)}
    tally(count, "damaged", damaged, world.broken)
    for told in result.explanations:
        if told.outcome in (Outcome.MATCHED, Outcome.DUPLICATE) and told.carton:
            count["automatic reads"] += 1
            count["misplaced reads"] += told.carton != world.truth[told.read_id]
    for found_here in result.received:
        shown = {world.truth[read_id] for read_id in found_here.evidence}
        count["misassigned cartons"] += bool(shown) and found_here.carton.carton not in shown
    count["falsely received"] += len({f.carton.carton for f in result.received} & absent)
    count["questions"] += len(result.questions)
    count["shipments with a question"] += bool(result.questions)


def tally(count: Counter[str], name: str, said: set[str], true: set[str]) -> None:
    count[f"{name} said"] += len(said)
    count[f"{name} true"] += len(true)
    count[f"{name} right"] += len(said & true)


def answers(world: World, result: Reconciliation) -> list[Note]:
    """A rep who looks: each read that is asked for is placed truly."""
    return [
        ReadAssigned(f"a{read_id}", START + timedelta(days=1), "Ana", read_id, world.truth[read_id])
        for question in result.questions
        for read_id in question.read_ids
    ]


def worlds(shipments: int, seed: int, rates: Rates) -> Iterator[tuple[World, Elsewhere]]:
    random = Random(seed)
    for number in range(shipments):
        manifest = make_manifest(random, 2 * number + 1, rates)
        other = make_manifest(random, 2 * number + 2, rates)
        yield make_world(random, manifest, other, rates), Elsewhere.of([other])


def run(shipments: int, seed: int, rates: Rates) -> tuple[Counter[str], Counter[str]]:
    alone, answered = Counter[str](), Counter[str]()
    for world, elsewhere in worlds(shipments, seed, rates):
        result = reconcile(world.manifest, world.reads, world.notes, others=elsewhere)
        judge(world, result, alone)
        notes = [*world.notes, *answers(world, result)]
        if len(notes) > len(world.notes):
            result = reconcile(world.manifest, world.reads, notes, others=elsewhere)
        judge(world, result, answered)
        alone["cartons"] += len(world.manifest.cartons)
        alone["reads"] += len(world.reads)
    return alone, answered


def share(count: Counter[str], name: str, of: str) -> str:
    whole = count[f"{name} {of}"]
    return f"{count[f'{name} right'] / whole:8.4f}" if whole else "       -"


def table(rates: Rates, shipments: int, seed: int) -> None:
    print(rates)
    alone, answered = run(shipments, seed, rates)
    print(f"{shipments} shipments, {alone['cartons']} cartons, {alone['reads']} reads\n")
    print(f"{'':28}{'no answers':>16}{'all answered':>16}")
    for name in ("short", "over", "damaged"):
        for word, of in (("precision", "said"), ("recall", "true")):
            print(f"{name + ' ' + word:28}{share(alone, name, of):>16}{share(answered, name, of):>16}")
    for name in (
        "automatic reads",
        "misplaced reads",
        "misassigned cartons",
        "falsely received",
        "questions",
        "shipments with a question",
    ):
        print(f"{name:28}{alone[name]:>16}{answered[name]:>16}")
    print(f"{'questions per shipment':28}{alone['questions'] / shipments:>16.4f}")
    print(f"present, nothing of its label legible: {alone['present, nothing of its label legible']}\n")


def main() -> None:
    shipments = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    print("Whole and torn labels\n")
    table(Rates(bad_side=0.0), shipments, seed)
    print("Whole labels also seen from a side that shows no code\n")
    table(Rates(), shipments, seed)


if __name__ == "__main__":
    main()
