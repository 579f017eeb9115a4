"""A manifest changes on the page: one carton's place, kind or mark, or a return to an earlier revision.

Every change is shown in words first, and becomes a new revision; none is ever lost.
"""

from dataclasses import dataclass, replace

from receiving.errors import BadRequest
from receiving.expected import manifest_changes
from receiving.messages import Text, joined, message
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest
from receiving.service.context import Context
from receiving.service.printing import carton_on
from receiving.store import RevisionOrigin, RevisionRecord
from receiving.wording import change_words, keep

LARGEST_POSITION = 9999
MAX_SECTION = 120


@dataclass(frozen=True)
class TypedPlace:
    """A planogram place as it was typed: section, column and row, all texts, all may be empty."""

    section: str = ""
    column: str = ""
    row: str = ""


@dataclass(frozen=True)
class CartonEdit:
    """What a person says of a carton. ``places``: one for each content line, in order; further ones are added."""

    kind: str
    open_first: bool
    places: tuple[TypedPlace, ...]


@dataclass(frozen=True)
class RevisionPreview:
    """What a new revision would change in words; ``follows`` is the revision that it was compared with."""

    follows: int
    changes: tuple[Text, ...]


def manifest_of(ctx: Context, shipment: str) -> tuple[Manifest, int]:
    """The current manifest and the number of its revision. Raises NotFound."""
    with ctx.store() as store:
        record = store.revision(shipment)
    return record.manifest, record.revision


def revisions(ctx: Context, shipment: str) -> tuple[RevisionRecord, ...]:
    """Every revision of the shipment's manifest, oldest first. Raises NotFound."""
    with ctx.store() as store:
        store.shipment(shipment)
        return store.revisions(shipment)


def preview_restore(ctx: Context, shipment: str, revision: int) -> RevisionPreview:
    """What restoring this revision would change now; stores nothing. Raises NotFound."""
    with ctx.store() as store:
        current, wanted = store.revision(shipment), store.revision(shipment, revision)
    return _preview(current, wanted.manifest)


def preview_carton(ctx: Context, shipment: str, carton: str, edit: CartonEdit) -> RevisionPreview:
    """What this edit of a carton would change; stores nothing. Raises NotFound, BadRequest."""
    with ctx.store() as store:
        current = store.revision(shipment)
    return _preview(current, _revised(current.manifest, carton, edit))


def revise_carton(ctx: Context, shipment: str, carton: str, edit: CartonEdit, *, follows: int, by: str) -> int:
    """Store the edit of a carton as a new revision; gives the number of the current one.

    Raises NotFound, BadRequest, and Conflict when the manifest has moved on from revision ``follows``.
    """
    with ctx.transaction() as store:
        current = store.revision(shipment, follows)
        revised = _revised(current.manifest, carton, edit)
        changes = _preview(current, revised).changes
        if not changes:
            return follows
        store.add_revisions(
            [(revised, follows, tuple(map(keep, changes)))],
            origin=RevisionOrigin.CARTON_EDITED,
            source=carton,
            by=by,
            imported_at=ctx.now(),
        )
    return follows + 1


def _preview(current: RevisionRecord, new: Manifest) -> RevisionPreview:
    changes = manifest_changes(current.manifest, new)
    return RevisionPreview(current.revision, tuple(map(change_words, changes)))


def _revised(manifest: Manifest, carton_id: str, edit: CartonEdit) -> Manifest:
    carton = carton_on(manifest, carton_id)
    revised = replace(carton, kind=_kind(edit.kind), open_first=edit.open_first, contents=_contents(carton, edit))
    return replace(manifest, cartons=tuple(revised if c is carton else c for c in manifest))


def _kind(word: str) -> CartonKind:
    try:
        return CartonKind(word)
    except ValueError:
        raise BadRequest(
            message("There is no carton kind {word}.", word=repr(word)),
            next_step=message("Use one of: {kinds}.", kinds=", ".join(kind.value for kind in CartonKind)),
            field="kind",
        ) from None


def _contents(carton: Carton, edit: CartonEdit) -> tuple[ContentLine, ...]:
    """The content lines at their new places; a line that said a place alone and lost it goes."""
    lines = list(carton.contents)
    lines += [ContentLine()] * (len(edit.places) - len(lines))
    faults: list[Text] = []
    places = [_place(number, typed, faults) for number, typed in enumerate(edit.places, 1)]
    if faults:
        raise BadRequest(
            joined(*faults), next_step=message("Correct it and look at the changes again; nothing was stored.")
        )
    placed = [replace(line, section=s, address=a) for line, (s, a) in zip(lines, places, strict=False)]
    whole = [*placed, *lines[len(placed) :]]
    return tuple(line for line in whole if line != ContentLine())


def _place(number: int, typed: TypedPlace, faults: list[Text]) -> tuple[str, Address | None]:
    section, column, row = (" ".join(text.split()) for text in (typed.section, typed.column, typed.row))
    if len(section) > MAX_SECTION or not section.isprintable():
        faults.append(
            message(
                "Place {number}: the section is not a single line of at most {limit} characters.",
                number=number,
                limit=MAX_SECTION,
            )
        )
    if column and not row:
        faults.append(message("Place {number}: row is missing; give both or neither.", number=number))
    if row and not column:
        faults.append(message("Place {number}: column is missing; give both or neither.", number=number))
    limits = {"number": number, "largest": LARGEST_POSITION}
    if column and not _is_position(column):
        written = repr(column[:40])
        faults.append(
            message(
                "Place {number}: column {written} is not a whole number from 1 to {largest}.", written=written, **limits
            )
        )
    if row and not _is_position(row):
        written = repr(row[:40])
        faults.append(
            message(
                "Place {number}: row {written} is not a whole number from 1 to {largest}.", written=written, **limits
            )
        )
    if faults or not (column and row):
        return section, None
    return section, Address(section, int(column), int(row))


def _is_position(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9 and 1 <= int(text) <= LARGEST_POSITION
