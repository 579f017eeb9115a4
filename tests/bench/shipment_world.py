"""Shipments as they might truly be, and what is read of them, by stated rates; common practice, no source."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from random import Random

from receiving.matching import Elsewhere
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    Claim,
    ContentLine,
    LabelRead,
    Manifest,
    Place,
    RawRead,
    Source,
    Sscc,
    mod10_check_digit,
)

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
PHOTOS = 12
SINGLE = (CartonKind.HEADER, CartonKind.GRAPHIC, CartonKind.PARTS, CartonKind.LIGHTING, CartonKind.TAGS)
BOXES_CM = {
    CartonKind.TRAY: ((45, 35, 15), (60, 40, 20), (75, 45, 30)),
    CartonKind.HEADER: ((125, 40, 12), (180, 45, 15)),
    CartonKind.GRAPHIC: ((60, 45, 6), (100, 12, 12)),
    CartonKind.PARTS: ((30, 20, 15), (40, 30, 22)),
    CartonKind.LIGHTING: ((125, 20, 15),),
    CartonKind.TAGS: ((30, 22, 8),),
}
"""Lengths, widths and heights that cartons of each kind come in; our choice, no source."""


@dataclass(frozen=True)
class Rates:
    """How often things happen, for each carton or label."""

    lost: float = 0.02
    over: float = 0.005
    swapped: float = 0.002
    torn: float = 0.03
    torn_to_number: float = 0.2
    over_torn: float = 0.03
    bad_side: float = 0.02
    typed_digits: float = 0.02
    product_code: float = 0.05
    shared_address: float = 0.1
    damaged: float = 0.03
    torn_if_damaged: float = 0.25
    damage_overlooked: float = 0.1
    sound_marked: float = 0.002
    marked_twice: float = 0.2
    picked_wrongly: float = 0.1
    slip: float = 0.003
    size_stated: float = 0.9
    glance: float = 0.1
    wrong_tap: float = 0.01
    views: tuple[int, ...] = (1, 1, 2, 2, 3, 4)


@dataclass
class World:
    """One shipment as it truly is, and what was read of it. ``truth`` is the carton of each read, or empty."""

    manifest: Manifest
    present: set[str]
    overs: list[Carton]
    broken: set[str]
    reads: list[LabelRead] = field(default_factory=list)
    truth: dict[str, str] = field(default_factory=dict)
    over_of: dict[str, str] = field(default_factory=dict)


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
        size_cm = random.choice(BOXES_CM[kind])
        cartons.append(Carton(f"{n + 1:02d}", kind, sscc(number * 100 + n), "", "", False, lines, None, *size_cm))
    return Manifest(f"SH-{number}", f"{number % 900 + 100:04d}", tuple(cartons))


def make_world(random: Random, manifest: Manifest, other: Manifest, rates: Rates) -> World:
    lost = {c.carton for c in manifest if random.random() < rates.lost + rates.swapped}
    overs = [c for c in other if random.random() < rates.over + rates.swapped]
    present = {c.carton for c in manifest} - lost
    broken = {name for name in sorted(present) if random.random() < rates.damaged}
    world = World(manifest, present, overs, broken)
    for carton in manifest:
        if carton.carton in present:
            show(random, world, carton, carton.carton, rates, manifest)
    for carton in overs:
        show(random, world, carton, "", rates, other)
    return world


def show(random: Random, world: World, carton: Carton, truth: str, rates: Rates, home: Manifest) -> None:
    """The reads of one carton that is in the pile: whole, torn, or typed; each view in a photo of its own pile side."""
    torn_rate = rates.torn_if_damaged if truth in world.broken else rates.torn if truth else rates.over_torn
    torn = random.random() < torn_rate
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
        kind=carton.kind.printed,
        carton_n=number,
        carton_total=len(home.cartons),
    )


def torn_claim(random: Random, carton: Carton, whole: Claim, rates: Rates) -> Claim:
    """What a torn label still says: the position with or without the kind, or only carton n of N."""
    if whole.address is None or random.random() < rates.torn_to_number:
        return Claim(section="Oak", carton_n=whole.carton_n, carton_total=whole.carton_total)
    return Claim(address=whole.address, section="Oak", kind=carton.kind.printed if random.random() < 0.5 else "")


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
        world.over_of[read_id] = str(carton.sscc)


def worlds(shipments: int, seed: int, rates: Rates) -> Iterator[tuple[World, Elsewhere]]:
    random = Random(seed)
    for number in range(shipments):
        manifest = make_manifest(random, 2 * number + 1, rates)
        other = make_manifest(random, 2 * number + 2, rates)
        yield make_world(random, manifest, other, rates), Elsewhere.of([other])
