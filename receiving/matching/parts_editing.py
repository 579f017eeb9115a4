"""The parts list as rows that a person edits, and back, with every fault named."""

from collections.abc import Iterable

from receiving.errors import BadRequest
from receiving.messages import message
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
    faults = []
    for number, row in enumerate(rows, start=1):
        try:
            kind, part = _part(row)
            if any(part.name.casefold() == other.name.casefold() for other in kinds.get(kind, ())):
                raise ValueError(f"part {part.name!r} of kind {kind.printed!r} is listed twice; add the quantities up")
            kinds.setdefault(kind, []).append(part)
        except ValueError as fault:
            faults.append(f"row {number}: {fault}")
    if faults:
        raise BadRequest(
            message(
                "The parts list has {number} fault{choice}: {listed}.",
                number=len(faults),
                choice="s" if len(faults) > 1 else "",
                listed="; ".join(faults),
            ),
            next_step=message("Correct the rows named; nothing was changed."),
        )
    return PartsList(tuple((kind, tuple(made_of)) for kind, made_of in kinds.items()), spares)


def _part(row: Row) -> tuple[CartonKind, Part]:
    kind, name, qty, of_position = (cell.strip() for cell in row)
    known = {k.value: k for k in CartonKind} | {k.printed: k for k in CartonKind}
    if kind.casefold() not in known:
        raise ValueError(f"kind {kind!r} is not one of {', '.join(k.printed for k in CartonKind)}")
    if not (qty.isascii() and qty.isdigit() and 0 < len(qty) < 7):
        raise ValueError(f"quantity {qty!r} is not a whole number from 1 up")
    if of_position.casefold() not in ("yes", "no", ""):
        raise ValueError(f"{of_position!r} for 'made for one position' is neither yes nor no")
    return known[kind.casefold()], Part(name, int(qty), of_position.casefold() == "yes")
