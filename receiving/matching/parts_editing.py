"""The parts list as rows that a person edits, and back, with every fault named."""

from collections.abc import Iterable

from receiving.errors import BadRequest, FieldFault
from receiving.messages import message, plural
from receiving.model import CartonKind
from receiving.model.contents import Part, PartsList

Row = tuple[str, str, str, str]
"""Kind of carton, part, quantity in each item, "yes" when the part is made for one position."""


def parts_rows(parts: PartsList) -> tuple[Row, ...]:
    """The parts list as rows, in its own order; spares are not in them."""
    return tuple(
        (kind.value, part.name, str(part.qty), "yes" if part.of_position else "no")
        for kind, made_of in parts.kinds
        for part in made_of
    )


def parts_list(rows: Iterable[Row], spares: tuple[tuple[str, tuple[str, ...]], ...] = ()) -> PartsList:
    """The parts list of these rows; raises `BadRequest` that names every faulty row.

    >>> parts_rows(parts_list([("tray", "clear cover", "2", "no")]))
    (('tray', 'clear cover', '2', 'no'),)
    """
    kinds: dict[CartonKind, list[Part]] = {}
    faults: list[FieldFault] = []
    for number, row in enumerate(rows, start=1):
        found = _wrong(row)
        faults += [FieldFault(each.field, each.message, str(number)) for each in found]
        if found:
            continue
        kind, part = _part(row)
        if any(part.name.casefold() == other.name.casefold() for other in kinds.get(kind, ())):
            twice = message(
                "part {part} of kind {kind} is listed twice; add the quantities up",
                part=repr(part.name),
                kind=repr(kind.printed),
            )
            faults.append(FieldFault("part", twice, str(number)))
        kinds.setdefault(kind, []).append(part)
    if faults:
        raise BadRequest(
            plural(len(faults), "The parts list has {number} fault.", "The parts list has {number} faults."),
            next_step=message("Correct the rows named; nothing was changed."),
            fields=tuple(
                FieldFault(each.field, message("Row {row}: {fault}.", row=each.which, fault=each.message), each.which)
                for each in faults
            ),
        )
    return PartsList(tuple((kind, tuple(made_of)) for kind, made_of in kinds.items()), spares)


_KINDS = {kind.value: kind for kind in CartonKind} | {kind.printed: kind for kind in CartonKind}
MOST_QTY = 999_999


def _wrong(row: Row) -> list[FieldFault]:
    """What is wrong with a row, at which cell."""
    kind, name, qty, of_position = (cell.strip() for cell in row)
    faults = []
    if kind.casefold() not in _KINDS:
        known = ", ".join(each.printed for each in CartonKind)
        faults.append(FieldFault("kind", message("kind {kind} is not one of {known}", kind=repr(kind), known=known)))
    if not name:
        faults.append(FieldFault("part", message("the part has no name")))
    if not (qty.isascii() and qty.isdigit() and 1 <= int(qty[:7]) <= MOST_QTY):
        words = message("quantity {qty} is not a whole number from 1 up", qty=repr(qty))
        faults.append(FieldFault("qty", words))
    if of_position.casefold() not in ("yes", "no", ""):
        words = message("{said} for 'made for one position' is neither yes nor no", said=repr(of_position))
        faults.append(FieldFault("of_position", words))
    return faults


def _part(row: Row) -> tuple[CartonKind, Part]:
    kind, name, qty, of_position = (cell.strip() for cell in row)
    return _KINDS[kind.casefold()], Part(name, int(qty), of_position.casefold() == "yes")
