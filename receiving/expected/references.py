"""References of a shipment (order, bill of lading, carrier ...) as one cell: a ``name=value`` on each line."""

from receiving.expected.cells import parse_id, shown


def parse_references(text: str) -> tuple[tuple[str, str], ...]:
    """``purchase order=4711`` on each line of the cell -> pairs in that order."""
    pairs = []
    for entry in text.split("\n"):
        name, equals, value = (part.strip() for part in entry.partition("="))
        if not (name and equals and value):
            raise ValueError(f"{shown(entry)} is not like 'purchase order=4711', one on each line of the cell")
        pairs.append((parse_id(name), parse_id(value)))
    return tuple(pairs)


def write_references(references: tuple[tuple[str, str], ...]) -> str:
    """The cell that `parse_references` reads."""
    return "\n".join(f"{name}={value}" for name, value in references)
