"""Cartons as cards: what it is, where it goes, how it stands."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from receiving.messages import Message, Text, message, plural
from receiving.model import CartonFinding, Damage, DamageNoted, How, OpenFirst, Over, StagingPlan
from receiving.wording import finding_words, term, whose_words
from web.pages.latest import Latest, hash_once
from web.pages.lifting import Caution, caution_of
from web.pages.tone import STATE_TONES, Tone
from web.pages.words import shown_text, weight_words, where_words
from web.units import shown_units

MOST_CARDS = 10_000
"""Cards that are held ready, a kilobyte each: those of twenty-five shipments of 400 cartons."""

HOW_WORDS = {
    How.SSCC: message("by its SSCC"),
    How.BARCODE: message("by its barcode"),
    How.ADDRESS: message("by the place printed on it"),
    How.GUIDED: message("read with help of the manifest"),
    How.TYPED: message("typed"),
    How.INSIDE_OUTER: message("with its outer box"),
}

DAMAGE_WORDS = {
    Damage.ARRIVED: message("Arrived damaged"),
    Damage.IN_WORK: message("Damaged during the work"),
    Damage.EXISTING_WORN: message("Existing part worn"),
    Damage.EXISTING_MISSING: message("Existing part missing"),
    Damage.WRONG_ITEM: message("Wrong item"),
    Damage.WRONG_SIDE: message("Wrong side or orientation"),
}


@dataclass(frozen=True)
class Option:
    """One value to choose in a form."""

    value: str
    words: Text
    chosen: bool


@dataclass(frozen=True)
class CartonCard:
    """One carton of the manifest. Texts are empty where there is nothing to say."""

    carton: str
    kind: Text
    where: Text
    tone: Tone
    word: Text
    why: Text
    how: Text
    bay: str
    place: Text
    weight: Text
    outer: str
    open_first: bool
    guided: bool
    damage: tuple[Text, ...]
    followed: Text
    look: Text = ""
    caution: Caution | None = None

    __hash__ = hash_once


@dataclass(frozen=True)
class CartonGroup:
    """The cartons of one section; ``folded`` where a list is too long to be shown whole."""

    section: str
    cards: tuple[CartonCard, ...]
    folded: bool


@dataclass(frozen=True)
class FirstCard:
    """A carton to open before the others."""

    carton: str
    kind: Text
    where: Text
    tone: Tone
    word: Text
    place: Text


@dataclass(frozen=True)
class ExtraCard:
    """Something read that is not on this manifest. ``photo`` shows it, where it was read from one."""

    code: str
    reason: Text
    belongs_to: Text
    shipment: str
    read_id: str
    photo: str


def carton_card(finding: CartonFinding, bays: Mapping[str, str], followed: Text = "", look: Text = "") -> CartonCard:
    """The card of one carton, its bay by ``bays``; ``followed`` and ``look``: what is done about a missing one."""
    carton = finding.carton
    text = (finding, bays.get(carton.carton, ""), followed, look, shown_units())
    return _cards.of(carton, text, lambda: _card(*text[:-1]))


_cards: Latest[CartonCard] = Latest(MOST_CARDS)


def _card(finding: CartonFinding, bay: str, followed: Text, look: Text) -> CartonCard:
    carton = finding.carton
    return CartonCard(
        carton=carton.carton,
        kind=term(carton.kind),
        where=where_words(carton),
        tone=STATE_TONES[finding.state],
        word=term(finding.state),
        why=finding_words(finding),
        how=HOW_WORDS.get(finding.how, "") if finding.how else "",
        bay=bay,
        place=term(finding.place) if finding.place else "",
        weight=weight_words(carton),
        outer=carton.outer,
        open_first=carton.open_first,
        guided=finding.how is How.GUIDED,
        damage=tuple(damage_words(note) for note in finding.damage),
        followed=followed,
        look=look,
        caution=caution_of(finding),
    )


SHOWN_WHOLE = 24
"""Cartons that a list shows without folding: about four screens of a phone."""


def carton_groups(cards: Iterable[CartonCard], sections: Mapping[str, str]) -> tuple[CartonGroup, ...]:
    """The cartons by section (``sections`` names each carton's), folded where they are many."""
    groups: dict[str, list[CartonCard]] = {}
    for card in cards:
        groups.setdefault(sections.get(card.carton, ""), []).append(card)
    many = sum(map(len, groups.values())) > SHOWN_WHOLE
    return tuple(CartonGroup(section, tuple(own), many) for section, own in groups.items())


def damage_words(note: DamageNoted) -> Message:
    """One damage in a line."""
    damage = DAMAGE_WORDS[note.reason]
    if note.item:
        damage = plural(
            note.qty,
            "{damage}: {number} piece of {item}",
            "{damage}: {number} pieces of {item}",
            damage=damage,
            item=note.item,
        )
    if note.column and note.row:
        damage = message("{damage} at column {column}, row {row}", damage=damage, column=note.column, row=note.row)
    usable, not_usable = message("{damage}, usable", damage=damage), message("{damage}, not usable", damage=damage)
    damage = usable if note.usable else not_usable
    return message("{damage} ({remark})", damage=damage, remark=note.remark) if note.remark else damage


def damage_options(reasons: Iterable[Damage]) -> tuple[Option, ...]:
    """Reasons of damage to choose from, the first one chosen."""
    return tuple(Option(reason.value, DAMAGE_WORDS[reason], not n) for n, reason in enumerate(reasons))


def bays_by_carton(plan: StagingPlan) -> dict[str, str]:
    """The bay that each carton goes to."""
    return {carton: staging.bay for staging in plan.bays for carton in staging.cartons}


def first_card(first: OpenFirst, findings: Mapping[str, CartonFinding]) -> FirstCard:
    """The card of an open-first carton, found or not."""
    finding = findings[first.carton]
    return FirstCard(
        carton=first.carton,
        kind=term(finding.carton.kind),
        where=where_words(finding.carton),
        tone=STATE_TONES[finding.state],
        word=term(finding.state),
        place=term(finding.place) if finding.place else "",
    )


def extra_card(over: Over, photos: Mapping[str, str]) -> ExtraCard:
    """The card of something extra; ``photos`` gives the photo of a read id."""
    return ExtraCard(
        code=shown_text(over.code),
        reason=term(over.why),
        belongs_to=whose_words(over),
        shipment=over.shipment,
        read_id=over.read_ids[0] if over.read_ids else "",
        photo=next((photos[read] for read in over.read_ids if photos.get(read)), ""),
    )
