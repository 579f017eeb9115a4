"""A back room as the trade knows it: a shipment, what really stands there, and what two reps read, type and photograph.

Written from the trade alone, without regard to how matching weighs its evidence, so that its figures are not an echo of
the costs in ``receiving/matching``. Everything follows from one seed. The rates are assumptions (common practice, no
source); ``Rates.scaled`` moves one of them to see how much a figure hangs on it.
"""

import random
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, date, datetime, timedelta

from receiving.model import (
    Address,
    Carton,
    CartonKind,
    ContentLine,
    Manifest,
    Place,
    RawRead,
    Source,
    Sscc,
    mod10_check_digit,
)

MORNING = datetime(2026, 12, 3, 7, 30, tzinfo=UTC)
SECTIONS = ("Hollybank", "Ternforge", "Quarrelight", "Mirebrook")
QUAD = ((0.0, 0.0), (200.0, 0.0), (200.0, 80.0), (0.0, 80.0))


@dataclass(frozen=True)
class Rates:
    """How often what happens; of a carton where nothing else is said."""

    torn: float = 0.05
    absent: float = 0.03
    of_siblings: float = 0.01
    relabelled: float = 0.01
    unseen: float = 0.02
    again: float = 0.2
    second_rep: float = 0.3
    typed: float = 0.05
    slip: float = 0.08
    half: float = 0.3
    blurred: float = 0.02
    product: float = 0.08
    shared: float = 0.15
    kit: float = 0.05
    item_typed: float = 0.01

    def scaled(self, name: str, factor: float) -> "Rates":
        return replace(self, **{name: min(0.9, getattr(self, name) * factor)})


RATE_WORDS = {
    "torn": "a label whose SSCC is gone",
    "absent": "a carton that did not come",
    "of_siblings": "a sibling shipment's carton among ours",
    "relabelled": "a carton that a depot gave a new SSCC, the old label beneath or gone",
    "unseen": "a carton that nobody read",
    "again": "a carton in view on a second photo",
    "second_rep": "a shipment that a second rep goes over as well",
    "typed": "a label that is typed instead of read",
    "slip": "a typed text with one slip",
    "half": "of a torn label's lines, one that ends in the middle",
    "blurred": "a code between which and its neighbours a guided read cannot decide",
    "product": "a product's own barcode in view",
    "shared": "a shipment in which cartons share a barcode",
    "kit": "a carton whose only code is its kit's, the same in every shipment",
    "item_typed": "a carton of which the item number is typed",
}
assert set(RATE_WORDS) == {each.name for each in fields(Rates)}


@dataclass(frozen=True)
class Scene:
    """What matching is given, and the truth beside it.

    ``true_carton`` says for each read id which carton of this manifest it is of; empty: of none (``foreign`` reads are
    another shipment's cartons, ``no_carton`` reads no carton at all). ``label_of`` says which physical label.
    """

    manifest: Manifest
    others: tuple[Manifest, ...]
    reads: tuple[RawRead, ...]
    here: frozenset[str]
    true_carton: dict[str, str]
    true_shipment: dict[str, str]
    of_siblings: frozenset[str]
    no_carton: frozenset[str]
    typed_ids: frozenset[str]
    label_of: dict[str, int]
    wrong_manifest: str = ""


@dataclass
class _Room:
    """A scene in the making."""

    rng: random.Random
    rates: Rates
    home: str
    reads: list[RawRead] = field(default_factory=list)
    true_carton: dict[str, str] = field(default_factory=dict)
    true_shipment: dict[str, str] = field(default_factory=dict)
    of_siblings: set[str] = field(default_factory=set)
    no_carton: set[str] = field(default_factory=set)
    typed_ids: set[str] = field(default_factory=set)
    label_of: dict[str, int] = field(default_factory=dict)
    labels: int = 0

    def happens(self, rate: str) -> bool:
        return self.rng.random() < getattr(self.rates, rate)


@dataclass(frozen=True)
class _Label:
    """A physical label: its symbols as (text, AIM identifier), and the carton that it is on."""

    number: int
    symbols: tuple[tuple[str, str], ...]
    owner: Carton | None
    shipment: str
    typed: bool = False


def build_scene(seed: int, rates: Rates = Rates(), *, cartons: int = 0, wrong_manifest: bool = False) -> Scene:
    """The scene of this seed; ``cartons`` 0: between 20 and 60. ``wrong_manifest``: the pile is a sibling's."""
    rng = random.Random(f"back room {seed}")
    size = cartons or rng.randint(20, 60)
    ours, *siblings = _programme(rng, rates, size)
    pile_of = siblings[0] if wrong_manifest else ours
    room = _Room(rng, rates, ours.shipment)
    present = [c for c in pile_of if not room.happens("absent")]
    labels = [label for carton in present for label in _labels_of(room, carton, pile_of, siblings)]
    for sibling in siblings:
        if sibling is not pile_of:
            overs = (c for c in sibling if rng.random() < rates.of_siblings / len(siblings))
            labels += [label for carton in overs for label in _labels_of(room, carton, sibling, siblings)]
    _go_round(room, labels)
    if room.happens("second_rep"):
        _go_round(room, [label for label in labels if rng.random() < 0.6])
    here = frozenset() if wrong_manifest else frozenset(c.carton for c in present)
    seen = {read.raw for read in room.reads}
    return Scene(
        manifest=ours,
        others=tuple(s for s in siblings if _shows(s, ours, seen)),
        reads=tuple(room.reads),
        here=here,
        true_carton=room.true_carton,
        true_shipment=room.true_shipment,
        of_siblings=frozenset(room.of_siblings),
        no_carton=frozenset(room.no_carton),
        typed_ids=frozenset(room.typed_ids),
        label_of=room.label_of,
        wrong_manifest=pile_of.shipment if wrong_manifest else "",
    )


def _shows(sibling: Manifest, ours: Manifest, seen: set[str]) -> bool:
    """As the service does it: another shipment is looked at where a code of it, and not of ours, was read."""
    own = {c.barcode for c in ours}
    codes = {f"00{c.sscc}" for c in sibling if c.sscc} | {str(c.sscc) for c in sibling if c.sscc}
    return bool(seen & (codes | ({c.barcode for c in sibling if c.barcode} - own)))


# What was packed


def _programme(rng: random.Random, rates: Rates, size: int) -> list[Manifest]:
    """Our shipment and two or three of other stores: the same cartons in the same order, SSCCs from one counter."""
    plan = _packing_plan(rng, rates, size)
    serial = rng.randrange(10_000, 800_000)
    company = f"9520{rng.randrange(1000):03d}"
    shipments = []
    for n in range(rng.randint(3, 4)):
        cartons = []
        for number, (kind, contents, barcode, bare) in enumerate(plan, 1):
            body = f"1{company}{serial:09d}"
            serial += 1
            sscc = None if bare else Sscc(body + mod10_check_digit(body))
            cartons.append(Carton(f"{number:02d}", kind, sscc, barcode, contents=contents))
        shipments.append(Manifest(f"RB-{n + 1:04d}", f"{2100 + n}", tuple(cartons), date(2026, 12, 7)))
    rng.shuffle(shipments)
    return shipments


def _packing_plan(
    rng: random.Random, rates: Rates, size: int
) -> list[tuple[CartonKind, tuple[ContentLine, ...], str, bool]]:
    sections = rng.sample(SECTIONS, rng.randint(1, 3))
    cells = [(s, column, row) for s in sections for column in range(1, max(12, size // 8) + 1) for row in range(1, 5)]
    cells = cells[: max(1, size * 2)] if size < len(cells) else cells
    shared_ean = _ean(rng) if rng.random() < rates.shared else ""
    others = [k for k in CartonKind if k not in (CartonKind.TRAY, CartonKind.REPLACEMENT_TRAY, CartonKind.OUTER)]
    plan = []
    rng.shuffle(cells)
    for number in range(size):
        barcode, bare = "", False
        if rng.random() < rates.kit:
            barcode, bare = f"KIT-{rng.randint(1, 12):02d}", rng.random() < 0.6
        elif shared_ean and rng.random() < 0.15:
            barcode = shared_ean
        elif rng.random() < 0.1:
            barcode = f"PN{rng.randrange(10**6):06d}"
        if rng.random() < 0.75:
            kind = CartonKind.REPLACEMENT_TRAY if rng.random() < 0.1 else CartonKind.TRAY
            chosen = [cells[(number + n) % len(cells)] for n in range(1 + (rng.random() < 0.1))]
            contents = tuple(
                ContentLine(s, Address(s, column, row), f"TR-{column}{row}{s[0]}", "tray", 1, "piece")
                for s, column, row in dict.fromkeys(chosen)
            )
        else:
            kind = rng.choice(others)
            contents = (ContentLine(rng.choice(sections), None, f"IT-{rng.randint(1, 9):03d}", kind.value, 4, "piece"),)
        plan.append((kind, contents, barcode, bare))
    return plan


def _ean(rng: random.Random) -> str:
    body = f"952{rng.randrange(10**9):09d}"
    return body + mod10_check_digit(body)


# What is on the boxes


def _labels_of(room: _Room, carton: Carton, manifest: Manifest, siblings: list[Manifest]) -> Iterator[_Label]:
    """The labels that can be seen of one carton, as (usually one) label; a depot's new label comes on top."""
    rng = room.rng
    total = len(manifest.cartons)
    symbols = _whole_label(carton, manifest, total)
    if room.happens("unseen"):
        return
    if room.happens("relabelled"):
        body = f"3952099{rng.randrange(10**10):010d}"
        new = (f"00{body}{mod10_check_digit(body)}", "]C1")
        kept = symbols if rng.random() < 0.5 else [s for s in symbols if s[1] == "]d1"]
        yield _label(room, [*kept, new], carton, manifest)
        return
    if room.happens("torn"):
        yield from _torn(room, symbols, carton, manifest)
    elif room.happens("blurred") and carton.sscc:
        yield _label(room, [(f"00{carton.sscc}", "guided")], carton, manifest)
    elif room.happens("typed"):
        yield _label(room, [(_typed_form(room, carton), "typed")], carton, manifest, typed=True)
    else:
        yield _label(room, symbols, carton, manifest)
    if room.happens("item_typed") and carton.contents:
        yield _label(room, [(carton.contents[0].item, "typed")], carton, manifest, typed=True)
    if room.happens("product"):
        room.labels += 1
        yield _Label(room.labels, ((_ean(rng), "]E0"),), None, manifest.shipment)


def _label(
    room: _Room, symbols: list[tuple[str, str]], carton: Carton, manifest: Manifest, *, typed: bool = False
) -> _Label:
    room.labels += 1
    return _Label(room.labels, tuple(symbols), carton, manifest.shipment, typed)


def _whole_label(carton: Carton, manifest: Manifest, total: int) -> list[tuple[str, str]]:
    """The symbols of a label in full: SSCC, the carton's own barcode, and the text in a Data Matrix."""
    symbols = []
    if carton.sscc:
        symbols.append((f"00{carton.sscc}", "]C1"))
    if carton.barcode:
        symbols.append((carton.barcode, "]E0" if carton.barcode.isdigit() else "]C0"))
    if int(carton.carton) % 3 == 0 or not symbols:
        symbols.append(("\n".join(_lines(carton, manifest, total)), "]d1"))
    return symbols


def _lines(carton: Carton, manifest: Manifest, total: int) -> list[str]:
    """What stands on it in print."""
    lines = [f"CARTON {carton.carton}", f"{int(carton.carton)} OF {total}"]
    if carton.addresses:
        cell = carton.addresses[0]
        lines.append(f"SECTION {cell.section} COL {cell.column} ROW {cell.row}")
    elif carton.sections:
        lines.append(f"SECTION {carton.sections[0]}")
    lines.append(f"CONTENTS: {carton.kind.value.replace('_', ' ').upper()}")
    lines.append(f"STORE {manifest.store}")
    return lines


def _torn(room: _Room, symbols: list[tuple[str, str]], carton: Carton, manifest: Manifest) -> Iterator[_Label]:
    """A label without its SSCC: some lines are left, one may end in the middle; or a rep types one of them."""
    rng = room.rng
    left = [line for line in _lines(carton, manifest, len(manifest.cartons)) if rng.random() < 0.5]
    if left and room.happens("half"):
        n = rng.randrange(len(left))
        left[n] = left[n][: rng.randint(3, max(3, len(left[n]) - 1))]
    if carton.barcode and rng.random() < 0.4:
        code = (carton.barcode, "]E0" if carton.barcode.isdigit() else "]C0")
        yield _label(room, [code, *([("\n".join(left), "]d1")] if left else [])], carton, manifest)
    elif left and rng.random() < 0.5:
        yield _label(room, [("\n".join(left), "]d1")], carton, manifest)
    elif left:
        line = rng.choice(left)
        yield _label(room, [(_slipped(room, line), "typed")], carton, manifest, typed=True)
    elif carton.sscc and rng.random() < 0.5:
        tail = str(carton.sscc)[-rng.randint(5, 12) :]
        yield _label(room, [(tail, "typed")], carton, manifest, typed=True)


def _typed_form(room: _Room, carton: Carton) -> str:
    """What a person types of a label in one line."""
    rng = room.rng
    forms = [carton.carton, f"carton {carton.carton}", str(int(carton.carton))]
    if carton.sscc:
        digits = str(carton.sscc)
        forms += [digits] * 6 + [f"SSCC {digits}", f"{digits[:4]} {digits[4:11]} {digits[11:]}", f"(00){digits}"]
    if carton.barcode:
        forms += [carton.barcode, carton.barcode.lower()] * 2
    if carton.addresses:
        cell = carton.addresses[0]
        forms += [f"COL {cell.column} ROW {cell.row}", f"c{cell.column} r{cell.row}", f"{cell.column}-{cell.row}"]
    return _slipped(room, rng.choice(forms))


def _slipped(room: _Room, text: str) -> str:
    """The text, now and then with one wrong, lost, doubled or swapped character."""
    rng = room.rng
    if not room.happens("slip") or len(text) < 2:
        return text
    return one_slip(rng, text, rng.choice(SLIPS))


SLIPS = ("substitution", "omission", "insertion", "transposition")


def one_slip(rng: random.Random, text: str, kind: str) -> str:
    """The text with one slip of this kind."""
    at = rng.randrange(len(text) - 1)
    some = rng.choice("0123456789" if text[at].isdigit() else "abcdefghijklmnopqrstuvwxyz")
    return {
        "substitution": text[:at] + some + text[at + 1 :],
        "omission": text[:at] + text[at + 1 :],
        "insertion": text[:at] + some + text[at:],
        "transposition": text[:at] + text[at + 1] + text[at] + text[at + 2 :],
    }[kind]


# What is read of them


def _go_round(room: _Room, labels: list[_Label]) -> None:
    """One rep goes over the pile: photos of a few boxes each, some boxes on two; single labels by scanner or typed."""
    rng = room.rng
    queue = labels[:]
    rng.shuffle(queue)
    by_hand = [label for label in queue if label.typed or rng.random() < 0.15]
    for label in by_hand:
        _by_hand(room, label)
    shot = [label for label in queue if label not in by_hand]
    while shot:
        many = rng.randint(2, 6)
        view, shot = shot[:many], shot[many:]
        _photo(room, view)
        again = [label for label in view if room.happens("again")]
        if again:
            _photo(room, again)


def _photo(room: _Room, view: list[_Label]) -> None:
    photo = f"{room.rng.getrandbits(256):064x}"
    for place, label in enumerate(view, 1):
        for text, symbology in label.symbols:
            if symbology == "typed":
                continue
            if symbology == "guided":
                _guided(room, label, text, photo, place)
            else:
                _add(
                    room, label, RawRead(*_new(room), Source.PHOTO, text, symbology, photo=photo, label=place, **_at())
                )


def _guided(room: _Room, label: _Label, text: str, photo: str, place: int) -> None:
    """A guided read between codes: the true one and one or two of its neighbours, in the order of how well they fit."""
    rng = room.rng
    near = [f"00{_next_sscc(text[2:], step)}" for step in rng.sample((-2, -1, 1, 2, 10), rng.randint(1, 2))]
    codes = [text, *near] if rng.random() < 0.8 else [near[0], text, *near[1:]]
    read = RawRead(
        *_new(room), Source.PHOTO, codes[0], "]C1", photo=photo, label=place, reader="guided", guided=True,
        confidence=0.6, alternatives=tuple(codes[1:]), **_at(),
    )  # fmt: skip
    _add(room, label, read)


def _next_sscc(digits: str, step: int) -> str:
    body = f"{int(digits[:-1]) + step:017d}"
    return body + mod10_check_digit(body)


def _by_hand(room: _Room, label: _Label) -> None:
    codes = [s for s in label.symbols if s[1] not in ("]d1", "guided")]
    if not codes:
        return
    text, symbology = codes[0]
    source = Source.TYPED if symbology == "typed" else Source.SCANNER
    kept = "" if symbology == "typed" or room.rng.random() < 0.3 else symbology
    read = RawRead(*_new(room), source, text, kept)
    _add(room, label, read)
    if label.typed:
        room.typed_ids.add(read.read_id)


def _at() -> dict[str, object]:
    return {"quad_px": QUAD, "place": Place.BACK_ROOM}


def _new(room: _Room) -> tuple[str, datetime]:
    return str(uuid.UUID(int=room.rng.getrandbits(128))), MORNING + timedelta(seconds=7 * len(room.reads))


def _add(room: _Room, label: _Label, read: RawRead) -> None:
    room.reads.append(read)
    room.label_of[read.read_id] = label.number
    if label.owner is None:
        room.no_carton.add(read.read_id)
        room.true_carton[read.read_id] = ""
        return
    room.true_shipment[read.read_id] = label.shipment
    ours = label.shipment == room.home
    room.true_carton[read.read_id] = label.owner.carton if ours else ""
    if not ours:
        room.of_siblings.add(read.read_id)
