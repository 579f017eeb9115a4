"""Photos: in a list, one shown back with its labels outlined, and the crop around one label."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from receiving import service
from receiving.messages import Message, Text, joined, message, plural
from receiving.model import (
    CartonSeen,
    Explanation,
    LabelRead,
    Note,
    Outcome,
    Quad,
    ReadRejected,
    RegionResolved,
    sure_words,
)
from receiving.service import PhotoRow, PhotoStatus, PhotoView, group_by_label, notes_in_force
from receiving.wording import stored_words, term, words_of
from web.pages.tone import OUTCOME_TONES, OUTCOME_WORDS, Tone
from web.pages.words import shown_text

_WEIGHT = {outcome: n for n, outcome in enumerate((Outcome.QUESTION, Outcome.DUPLICATE, Outcome.OVER, Outcome.MATCHED))}
_WEIGHT[Outcome.REJECTED] = len(_WEIGHT)
"""What a label is called by, where its codes fare differently: the one that needs a person first."""
CROP_MARGIN = 0.6
"""How much of the label's longer side is shown around it, so that the carton can be recognised."""


@dataclass(frozen=True)
class PhotoCard:
    """A photo in a list; ``gone`` says that its file was taken out, where it was."""

    photo: str
    name: str
    place: Text
    by: str
    tone: Tone
    words: Text
    advice: Text
    waits: bool
    gone: Text


@dataclass(frozen=True)
class Crop:
    """A part of a photo to look at: an SVG view box and the label's outline in it, in pixels of the upright photo.

    ``gone`` says that the photo's file was taken out, where it was.
    """

    photo: str
    view_box: str
    width_px: int
    height_px: int
    points: str
    caption: Text
    gone: Text


@dataclass(frozen=True)
class DamagePhoto:
    """A photo (SHA-256) that shows damage; ``gone`` says that its file was taken out, where it was."""

    photo: str
    gone: Text


@dataclass(frozen=True)
class Outline:
    """One outlined label or unread region of a photo; ``mark`` is what stands at its corner."""

    mark: str
    points: str
    tone: Tone
    x_px: float
    y_px: float


@dataclass(frozen=True)
class LabelCard:
    """One physical label: what it is, and all codes read from it. ``rejected_notes`` undo a rejection."""

    mark: str
    tone: Tone
    word: Text
    carton: str
    sentences: tuple[Text, ...]
    warnings: tuple[Text, ...]
    texts: tuple[str, ...]
    read_ids: tuple[str, ...]
    guided: bool
    sureness: Text
    rejected_notes: tuple[str, ...]


@dataclass(frozen=True)
class UnreadLine:
    """A region that looks like a label and was not read; ``settled`` is what a person said that it is."""

    mark: str
    advice: Text
    region: int
    resolved: Text
    resolved_notes: tuple[str, ...]


@dataclass(frozen=True)
class PhotoPage:
    """One photo with everything that was read from it."""

    template: ClassVar[str] = "photo.html"

    shipment: str
    store: str
    card: PhotoCard
    width_px: int
    height_px: int
    stroke_px: float
    mark_px: float
    outlines: tuple[Outline, ...]
    labels: tuple[LabelCard, ...]
    unread: tuple[UnreadLine, ...]
    refused: tuple[Text, ...]
    before: str
    after: str
    position: int
    total: int
    print_readable: bool
    gone: Text
    open_cartons: tuple[str, ...]

    @property
    def title(self) -> Message:
        """The page's title."""
        return message("Photo {position} of {total}", position=self.position, total=self.total)


def photo_card(row: PhotoRow) -> PhotoCard:
    """A photo in a list; one that failed says why and stays kept."""
    tone, words = _status_words(row)
    return PhotoCard(
        row.photo,
        row.name,
        term(row.place),
        row.by,
        tone,
        words,
        row.advice,
        row.status is PhotoStatus.WAITING,
        gone_words(row),
    )


def gone_words(row: PhotoRow) -> Text:
    """That the photo's file was taken out, where it was."""
    if row.pruned_at is None:
        return ""
    return message("Photo taken out by the rule for old photos on {day}", day=row.pruned_at.date())


def damage_photos(photos: Iterable[str], rows: Iterable[PhotoRow]) -> tuple[DamagePhoto, ...]:
    """The photos of a damage, of those of the shipment."""
    gone = {row.photo: gone_words(row) for row in rows if row.pruned_at}
    return tuple(DamagePhoto(photo, gone.get(photo, "")) for photo in photos if photo)


def _status_words(row: PhotoRow) -> tuple[Tone, Text]:
    if row.status is PhotoStatus.WAITING:
        return Tone.PLAIN, message("Being read …")
    if row.status is PhotoStatus.FAILED:
        return Tone.MISSING, row.error
    if not row.found:
        return Tone.QUESTION, message("No label read")
    return Tone.HERE, plural(row.found, "{number} code read", "{number} codes read")


def _gone(view: PhotoView) -> Text:
    """That its file was taken out, where it was."""
    if view.row.pruned_at is None:
        return ""
    taken = message("This photo was taken out by the rule for old photos on {day}.", day=view.row.pruned_at.date())
    return joined(taken, message("What was read from it is kept."))


def photo_page(view: PhotoView, shipment: str) -> PhotoPage:
    """One photo as a page."""
    row, notes, siblings = view.row, view.notes, view.photos
    resolved = service.find_resolved_regions(notes)
    explained = {e.read_id: e for e in view.explanations}
    rejected = rejections(notes)
    topmost_first = (sorted(label, key=_top_px) for label in group_by_label(view.reads))
    numbered = [(str(number), reads) for number, reads in enumerate(topmost_first, 1)]
    missed = [(chr(ord("a") + number % 26), region) for number, region in enumerate(view.unread)]
    longer = max(row.width_px, row.height_px, 1)
    mark_px = longer / 40
    at = siblings.index(row.photo)
    return PhotoPage(
        shipment=shipment,
        store=view.store,
        card=photo_card(row),
        width_px=row.width_px,
        height_px=row.height_px,
        stroke_px=longer / 220,
        mark_px=mark_px,
        outlines=(
            *(
                _outline(
                    _shown_mark(mark, reads, explained) if not n else "",
                    read.raw.quad_px,
                    _tone(explained.get(read.read_id)),
                    mark_px,
                )
                for mark, reads in numbered
                for n, read in enumerate(reads)
                if read.raw.quad_px
            ),
            *(_outline(mark, region.quad_px, Tone.MISSING, mark_px) for mark, region in missed),
        ),
        labels=tuple(_label_card(mark, reads, explained, rejected, view.warnings) for mark, reads in numbered),
        unread=tuple(
            _unread_line(mark, stored_words(region.advice), number, resolved.get((row.photo, number)), notes)
            for number, (mark, region) in enumerate(missed, 1)
        ),
        refused=view.refused,
        before=siblings[at - 1] if at else "",
        after=siblings[at + 1] if at + 1 < len(siblings) else "",
        position=at + 1,
        total=len(siblings),
        gone=_gone(view),
        print_readable=view.can_read_print and bool(missed) and view.row.pruned_at is None,
        open_cartons=view.missing,
    )


def _shown_mark(mark: str, reads: Sequence[LabelRead], explained: Mapping[str, Explanation]) -> str:
    """What stands beside a label: its carton where it is known, else its number in the list."""
    cartons = {explained[read.read_id].carton for read in reads if read.read_id in explained} - {""}
    return cartons.pop() if len(cartons) == 1 else f"#{mark}"


def _unread_line(
    mark: str, advice: Text, number: int, note: RegionResolved | None, notes: Iterable[Note]
) -> UnreadLine:
    if note is None:
        return UnreadLine(mark, advice, number, "", ())
    of_carton = message("The label of carton {carton}", carton=note.carton)
    words = of_carton if note.carton else message("No carton label")
    seen = [
        other.note_id
        for other in notes
        if isinstance(other, CartonSeen) and other.carton == note.carton and _of_one_tap(other, note)
    ]
    return UnreadLine(mark, advice, number, words, (note.note_id, *seen))


def _of_one_tap(one: Note, other: Note) -> bool:
    return one.action_id == other.action_id if one.action_id else one.noted_at == other.noted_at


def rejections(notes: Iterable[Note]) -> dict[str, str]:
    """The rejected reads, each with the id of the note that rejects it."""
    return {note.read_id: note.note_id for note in notes_in_force(notes) if isinstance(note, ReadRejected)}


def _tone(explanation: Explanation | None) -> Tone:
    return OUTCOME_TONES[explanation.outcome] if explanation else Tone.PLAIN


def _top_px(read: LabelRead) -> float:
    return min(y for _, y in read.raw.quad_px) if read.raw.quad_px else 0.0


def _label_card(
    mark: str,
    reads: Sequence[LabelRead],
    explained: Mapping[str, Explanation],
    rejected: Mapping[str, str],
    warnings: Sequence[tuple[str, Text]],
) -> LabelCard:
    ids = {read.read_id for read in reads}
    stated = [explained[read.read_id] for read in reads if read.read_id in explained]
    lead = min(stated, key=lambda e: _WEIGHT[e.outcome], default=None)
    outcome = lead.outcome if lead else Outcome.REJECTED
    return LabelCard(
        mark=mark,
        tone=OUTCOME_TONES[outcome],
        word=OUTCOME_WORDS[outcome],
        carton=lead.carton if lead else "",
        sentences=tuple(dict.fromkeys(words_of(e.why) for e in stated)),
        warnings=tuple(dict.fromkeys(words for read_id, words in warnings if read_id in ids)),
        texts=tuple(dict.fromkeys(shown_text(read.raw.raw) for read in reads)),
        read_ids=tuple(read.read_id for read in reads),
        guided=all(read.raw.guided for read in reads),
        sureness=sureness_words(reads[0]),
        rejected_notes=tuple(rejected[read.read_id] for read in reads if read.read_id in rejected),
    )


def sureness_words(read: LabelRead) -> Text:
    """How sure a guided read is; empty for the others."""
    return sure_words(read.raw.confidence) if read.raw.guided else ""


def points_text(quad: Quad) -> str:
    """The corners as SVG points."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in quad)


def _outline(mark: str, quad: Quad, tone: Tone, mark_px: float) -> Outline:
    """The mark stands at the topmost corner, off the label where the photo leaves room for it."""
    x, y = min(quad, key=lambda corner: (corner[1], corner[0]))
    left, top = (max(mark_px, value - 0.7 * mark_px) for value in (x, y))
    return Outline(mark, points_text(quad), tone, round(left, 1), round(top, 1))


def crop(row: PhotoRow, quad: Quad, caption: Text) -> Crop:
    """The part of the photo around a label."""
    xs, ys = [x for x, _ in quad], [y for _, y in quad]
    margin = CROP_MARGIN * max(max(xs) - min(xs), max(ys) - min(ys), 1)
    left, top = max(0.0, min(xs) - margin), max(0.0, min(ys) - margin)
    right, bottom = min(float(row.width_px), max(xs) + margin), min(float(row.height_px), max(ys) + margin)
    box = f"{left:.0f} {top:.0f} {max(right - left, 1):.0f} {max(bottom - top, 1):.0f}"
    return Crop(row.photo, box, row.width_px, row.height_px, points_text(quad), caption, gone_words(row))


def crops_of(reads: Iterable[LabelRead], rows: Mapping[str, PhotoRow]) -> tuple[Crop, ...]:
    """The photo parts that show these reads, one for each photo and label."""
    shown: dict[tuple[str, Quad], Crop] = {}
    for read in reads:
        row = rows.get(read.raw.photo)
        if row and read.raw.quad_px and row.width_px:
            caption = message("{photo}, {place}", photo=row.name, place=term(row.place))
            shown.setdefault((row.photo, read.raw.quad_px), crop(row, read.raw.quad_px, caption))
    return tuple(shown.values())
