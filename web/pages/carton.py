"""One carton: what it holds, what shows that it is here, and what a person can say about it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.errors import NotFound
from receiving.messages import Message, Text, message, opening, plural
from receiving.model import (
    Carton,
    CartonKind,
    CartonState,
    ContentCounted,
    ContentLine,
    Damage,
    Note,
    OuterOpened,
    Place,
    ReadAssigned,
    ReadRejected,
    SizeStated,
)
from receiving.service import ShipmentView, missing_words, notes_in_force
from receiving.wording import address_words, term, words_of
from web.pages.cartons import CartonCard, Option, bays_by_carton, carton_card, damage_options, damage_words
from web.pages.notes import NoteLine, note_lines
from web.pages.photos import Crop, DamagePhoto, crops_of, damage_photos, sureness_words
from web.pages.searching import Search, search_of
from web.pages.tone import Tone
from web.pages.words import shown_text, size_words


@dataclass(frozen=True)
class Content:
    """One content line; ``counted`` is what was found, in words; ``column`` and ``row`` may be empty."""

    item: str
    description: str
    place: Text
    wanted: str
    qty: int
    counted: Text
    tone: Tone
    section: str
    column: str
    row: str


@dataclass(frozen=True)
class DamageLine:
    """One damage in words, and the photos that show it."""

    words: Text
    photos: tuple[DamagePhoto, ...]


@dataclass(frozen=True)
class Evidence:
    """A read that shows this carton."""

    read_id: str
    sentence: Text
    text: str
    guided: bool
    sureness: Text
    crops: tuple[Crop, ...]


@dataclass(frozen=True)
class Inner:
    """A carton that travels in this outer box."""

    card: CartonCard


@dataclass(frozen=True)
class CartonPage:
    """One carton of a shipment."""

    template: ClassVar[str] = "carton.html"

    shipment: str
    store: str
    card: CartonCard
    code: str
    size: Text
    contents: tuple[Content, ...]
    all_there: bool
    inner: tuple[Inner, ...]
    is_outer: bool
    opened: bool
    is_here: bool
    evidence: tuple[Evidence, ...]
    places: tuple[Option, ...]
    damage: tuple[DamageLine, ...]
    damages: tuple[Option, ...]
    notes: tuple[NoteLine, ...]
    search: Search | None

    @property
    def title(self) -> Message:
        """The page's title."""
        return message("Carton {carton}, {state}", carton=self.card.carton, state=self.card.word)


def carton_page(view: ShipmentView, carton_id: str, now: datetime) -> CartonPage:
    """The page of one carton. Raises NotFound."""
    finding = next((f for f in view.reconciliation.cartons if f.carton.carton == carton_id), None)
    if finding is None:
        raise NotFound(
            message(
                "Carton {carton_id} is not on the manifest of shipment {shipment}.",
                carton_id=repr(carton_id),
                shipment=repr(view.manifest.shipment),
            ),
            next_step=message("Choose a carton from the shipment's page."),
        )
    carton, in_force = finding.carton, notes_in_force(view.notes)
    counts = [note for note in in_force if isinstance(note, ContentCounted) and note.carton == carton_id]
    inside = {inner.carton for inner in view.manifest.inside(carton_id)}
    bays = bays_by_carton(view.plan)
    followed: Text = next((missing_words(each) for each in view.glance.followed if each.carton == carton_id), "")
    return CartonPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        card=carton_card(finding, bays, followed),
        code=", ".join(carton.codes),
        size=size_words(carton),
        contents=tuple(_content(line, counts) for line in carton.contents if line.item or line.description or line.qty),
        all_there=any(not note.item for note in counts),
        inner=tuple(Inner(carton_card(f, bays)) for f in view.reconciliation.cartons if f.carton.carton in inside),
        is_outer=carton.kind is CartonKind.OUTER or bool(inside),
        opened=any(isinstance(note, OuterOpened) and note.carton == carton_id for note in in_force),
        is_here=finding.state is CartonState.RECEIVED,
        evidence=_evidence(view, finding.evidence),
        places=tuple(Option(p.value, opening(term(p)), p is finding.place) for p in Place),
        damage=tuple(
            DamageLine(damage_words(note), damage_photos((note.photo,), view.photos)) for note in finding.damage
        ),
        damages=damage_options(Damage),
        search=search_of(view, finding, now),
        notes=note_lines(_about(carton, finding.evidence, view.notes), view.notes, now),
    )


def _about(carton: Carton, evidence: tuple[str, ...], notes: tuple[Note, ...]) -> Iterator[Note]:
    """The notes on this carton or its reads."""
    for note in notes:
        of_read = isinstance(note, ReadAssigned | ReadRejected | SizeStated) and note.read_id in evidence
        if of_read or getattr(note, "carton", None) == carton.carton:
            yield note


def _content(line: ContentLine, counts: list[ContentCounted]) -> Content:
    cell = (line.address.column, line.address.row) if line.address else (None, None)
    # A count that names no place is of every line of this item; one without a number says that all are there.
    own = [note for note in counts if note.item == line.item and (note.column, note.row) in (cell, (None, None))]
    latest = own[-1] if own else None
    found = line.qty if latest and latest.qty is None else latest.qty if latest else None
    surplus = found - line.qty if found is not None and line.qty is not None else 0
    return Content(
        item=line.item,
        description=line.description,
        place=address_words(line.address) if line.address else line.section,
        wanted=f"{line.qty} {line.unit}".strip() if line.qty is not None else "",
        qty=line.qty or 1,
        counted="" if found is None else plural(found, "{number} found", "{number} found"),
        tone=Tone.EXTRA if surplus > 0 else Tone.MISSING if surplus < 0 else Tone.HERE,
        section=line.section,
        column=str(cell[0] or ""),
        row=str(cell[1] or ""),
    )


def _evidence(view: ShipmentView, read_ids: tuple[str, ...]) -> tuple[Evidence, ...]:
    rows = {row.photo: row for row in view.photos}
    explained: Mapping[str, Text] = {e.read_id: words_of(e.why) for e in view.reconciliation.explanations}
    return tuple(
        Evidence(
            read.read_id,
            explained.get(read.read_id, ""),
            shown_text(read.raw.raw),
            read.raw.guided,
            sureness_words(read),
            crops_of((read,), rows),
        )
        for read in view.reads
        if read.read_id in set(read_ids)
    )
