"""In which order the cartons are completed, and what can start before a missing carton comes.

Open-first cartons; then for each section in setting order its section-wide cartons (instructions, tags, parts, the
rest), and for each of its bays headers, then trays from the top row down and from left to right. Rows count from
the top. Common practice, no source.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from receiving.messages import Text, message
from receiving.model import Carton, CartonKind, WorkStep
from receiving.staging.destinations import setting_order
from receiving.staging.shipment import Shipment

_WIDE_ORDER = (CartonKind.INSTRUCTIONS, CartonKind.TAGS, CartonKind.PARTS, CartonKind.LIGHTING, CartonKind.GRAPHIC)


def opening_key(carton: Carton) -> tuple[object, ...]:
    """Sorts the cartons of one bay into the order in which they are opened."""
    wide = not carton.addresses
    kind = _WIDE_ORDER.index(carton.kind) if carton.kind in _WIDE_ORDER else len(_WIDE_ORDER)
    cells = tuple((address.row, address.column) for address in carton.addresses)
    return (
        not carton.open_first,
        not wide,
        kind if wide else carton.kind is not CartonKind.HEADER,
        min(cells, default=(0, 0)),
        carton.carton,
    )


@dataclass(frozen=True)
class _Group:
    """Cartons that are one step of the work; ``waits`` are the cartons that have to come before it can start."""

    words: Text
    cartons: Sequence[Carton]
    bay: str = ""
    waits: tuple[str, ...] = ()


def work_steps(shipment: Shipment) -> tuple[WorkStep, ...]:
    """The steps in order, each with the cartons that are here; missing ones are named in its words.

    Without a layout the sections take the place of the bays, in manifest order.
    """
    steps: list[WorkStep] = []
    for group in _groups(shipment):
        step = _step(len(steps) + 1, group, shipment)
        if step is not None:
            steps.append(step)
    return tuple(steps)


def _groups(shipment: Shipment) -> Iterator[_Group]:
    yield _Group(message("Open first"), [c for c in shipment.manifest if c.open_first])
    rest = [c for c in shipment.manifest if not c.open_first and c.kind is not CartonKind.OUTER]
    for section in _sections(shipment):
        own = [c for c in rest if _first_section(c).casefold() == section.casefold()]
        name = message("Section {section}", section=section) if section else message("Whole shipment")
        words = message("{where}: instructions, tags, parts and other section-wide cartons", where=name)
        yield _Group(words, [c for c in own if not c.addresses])
        waits = shipment.blockers(section)
        for bay, cartons in _by_bay(shipment, [c for c in own if c.addresses]):
            where = message("{section}, bay {bay}", section=name, bay=bay) if bay else name
            headers = [c for c in cartons if c.kind is CartonKind.HEADER]
            trays = [c for c in cartons if c.kind is not CartonKind.HEADER]
            yield _Group(message("{where}: headers", where=where), headers, bay, waits)
            yield _Group(message("{where}: top to bottom, left to right", where=where), trays, bay, waits)


def _step(number: int, group: _Group, shipment: Shipment) -> WorkStep | None:
    """The step with this number; None where nothing of it is here or missing."""
    in_order = sorted(group.cartons, key=opening_key)
    here = tuple(c.carton for c in in_order if shipment.here(c.carton) and c.carton not in shipment.opened)
    missing = tuple(c.carton for c in in_order if not shipment.here(c.carton))
    if not here and not missing:
        return None
    words = group.words
    if missing and here and not group.waits:
        words = message("{step}; missing: {cartons}, the rest can start", step=words, cartons=", ".join(missing))
    elif missing:
        words = message("{step}; missing: {cartons}", step=words, cartons=", ".join(missing))
    return WorkStep(number, words, here, group.bay, group.waits or (() if here else missing))


def _first_section(carton: Carton) -> str:
    return carton.sections[0] if carton.sections else ""


def _sections(shipment: Shipment) -> tuple[str, ...]:
    """In setting order, each once in the manifest's spelling; those that the layout does not know last."""
    named = {name.casefold(): name for c in shipment.manifest for name in reversed((*c.sections, ""))}
    known = [bay.section.casefold() for bay in setting_order(shipment.layout)] if shipment.layout else []
    ordered = dict.fromkeys(("", *(name for name in known if name in named), *named))
    return tuple(named.get(name, name) for name in ordered)


def _by_bay(shipment: Shipment, cartons: Iterable[Carton]) -> list[tuple[str, list[Carton]]]:
    groups: dict[tuple[int, str], list[Carton]] = {}
    for carton in cartons:
        bay = shipment.goes_to(carton).bay
        groups.setdefault((bay.order, bay.bay) if bay else (0, ""), []).append(carton)
    return [(name, group) for (_, name), group in sorted(groups.items(), key=lambda item: item[0])]
