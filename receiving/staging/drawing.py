"""The plan drawn as SVG text, to be set into a page: section elevation, floor before the bays, cart loads.

Every state shows in colour, pattern and word. Colours are the page's CSS variables where it has them (``--here``,
``--missing``, ``--inside``, ``--card``), ink is ``currentColor``: the drawings work in light and dark, and print in
black and white. Lengths inside are centimetres or grid cells; the page scales the drawing by its width.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from zlib import crc32

from receiving.model import Bay, Cart, CartonState, Layout, Manifest, Reconciliation, Spot, StagingPlan, Trip
from receiving.staging.destinations import setting_order

CELL, HEAD, SIDE = 120, 44, 64
"""Width of a grid cell and its height, of the head row, and of the column with the row numbers."""

NOTHING = "none"
WORDS = {**{state.value: state.words for state in CartonState}, NOTHING: "no carton"}
FILLS = {
    CartonState.RECEIVED.value: "var(--here-bg, #dff3e5)",
    CartonState.SHORT.value: "var(--missing-bg, #fde4e0)",
    CartonState.INSIDE.value: "var(--inside-bg, #e1ebfb)",
    NOTHING: "none",
}
WORST_FIRST = (CartonState.SHORT, CartonState.INSIDE, CartonState.RECEIVED)


@dataclass(frozen=True)
class Cell:
    """One planogram position: the cartons addressed to it, and the worst of their states."""

    cartons: tuple[str, ...]
    state: str


def section_elevation_svg(
    section: str, manifest: Manifest, reconciliation: Reconciliation, layout: Layout | None = None
) -> str:
    """The section seen from the front, row 1 on top: each position with its cartons and their state; bays as heads.

    An unknown section gives a drawing that says so.
    """
    cells = _cells(section, manifest, reconciliation)
    bays = [b for b in setting_order(layout) if b.section.casefold() == section.casefold()] if layout else []
    columns = sorted({column for column, _ in cells} | {column for bay in bays for column in bay.columns})
    rows = sorted({row for _, row in cells})
    width, height = SIDE + CELL * max(1, len(columns)), 2 * HEAD + CELL * max(1, len(rows))
    place = {column: SIDE + CELL * i for i, column in enumerate(columns)}
    mark = f"e{crc32(f'{manifest.shipment} {section}'.encode()):x}"
    parts = [_hatches(mark)]
    for bay in bays:
        parts.extend(_bay_heads(bay, place))
    parts += [_text(f"Column {column}", x + CELL / 2, HEAD * 1.65, 20) for column, x in place.items()]
    for i, row in enumerate(rows):
        top = 2 * HEAD + CELL * i
        parts.append(_text(f"Row {row}", SIDE / 2, top + CELL / 2, 18))
        for column, x in place.items():
            parts.append(
                _cell(cells.get((column, row), Cell((), NOTHING)), x, top, mark, f"column {column}, row {row}")
            )
    if not cells:
        parts.append(_text("No carton has an address here", width / 2, height - CELL / 2, 18))
    counts = {state: sum(1 for cell in cells.values() if cell.state == state) for state in WORDS}
    spoken = ", ".join(f"{counts[state.value]} {state.words}" for state in CartonState)
    return _svg(f"Section {section}" if section else "Section", f"Positions: {spoken}.", width, height, parts, mark)


def _cells(section: str, manifest: Manifest, reconciliation: Reconciliation) -> dict[tuple[int, int], Cell]:
    states = {finding.carton.carton: finding.state for finding in reconciliation.cartons}
    at: dict[tuple[int, int], list[str]] = {}
    for carton in manifest:
        for address in carton.addresses:
            if address.section.casefold() == section.casefold():
                at.setdefault((address.column, address.row), []).append(carton.carton)
    cells = {}
    for cell, cartons in at.items():
        found = {states.get(carton, CartonState.SHORT) for carton in cartons}
        cells[cell] = Cell(tuple(cartons), next(state for state in WORST_FIRST if state in found).value)
    return cells


def _cell(cell: Cell, x: float, y: float, mark: str, where: str) -> str:
    label = f"{where}: {WORDS[cell.state]}" + (f", carton {', '.join(cell.cartons)}" if cell.cartons else "")
    shown = cell.cartons if len(cell.cartons) <= 2 else (cell.cartons[0], f"+{len(cell.cartons) - 1}")
    middle = x + CELL / 2
    inner = [
        f"<title>{escape(label)}</title>",
        _rect(x + 2, y + 2, CELL - 4, CELL - 4, FILLS[cell.state], 'class="ground"'),
    ]
    if cell.state in (CartonState.SHORT, CartonState.INSIDE):
        inner.append(_rect(x + 2, y + 2, CELL - 4, CELL - 4, f"url(#{mark}-{cell.state})"))
    inner.append(_text(" ".join(shown) or "–", middle, y + CELL * 0.36, _size(" ".join(shown), CELL - 16, 34), "id"))
    inner += [_text(line, middle, y + CELL * 0.68 + 20 * i, 19) for i, line in enumerate(WORDS[cell.state].split(", "))]
    return f'<g class="cell {cell.state}">{"".join(inner)}</g>'


def _bay_heads(bay: Bay, place: dict[int, int]) -> Iterator[str]:
    """One head over each run of neighbouring columns of the bay."""
    for column in sorted(bay.columns):
        x = place[column]
        yield _rect(x + 2, 4, CELL - 4, HEAD - 8, "none", 'class="bay"')
        yield _text(f"Bay {bay.bay}", x + CELL / 2, HEAD / 2, _size(f"Bay {bay.bay}", CELL - 16, 20))


def floor_plan_svg(plan: StagingPlan, layout: Layout) -> str:
    """All bays side by side in setting order, from above: fixture, floor with its stacks, and the aisle kept clear."""
    bays = setting_order(layout)
    staged = {bay.bay: bay for bay in plan.bays}
    gap, fixture, aisle = 20.0, 30.0, 36.0
    depth = max((bay.staging_depth_cm for bay in bays), default=0.0)
    parts: list[str] = []
    x = gap
    for bay in bays:
        wide = max(bay.width_cm, bay.staging_length_cm)
        parts.append(_rect(x, 0, bay.width_cm, fixture - 4, "none", 'class="fixture"'))
        parts.append(_text(f"Bay {bay.bay}", x + bay.width_cm / 2, fixture / 2 - 2, 15))
        parts.append(
            _rect(
                x, fixture, bay.staging_length_cm, bay.staging_depth_cm, "none", 'class="floor" stroke-dasharray="6 4"'
            )
        )
        spots = staged[bay.bay].spots if bay.bay in staged else ()
        moved = staged[bay.bay].moved if bay.bay in staged else ()
        parts.extend(_from_above(spots, x, fixture, frozenset(moved)))
        x += wide + gap
    parts.append(_text("Aisle: keep clear", x / 2, fixture + depth + aisle / 2, 16, "aisle"))
    spoken = "; ".join(f"bay {bay.bay}: carton {', '.join(bay.cartons)}" for bay in plan.bays) or "no cartons staged"
    return _svg("Floor before the bays", spoken, x, fixture + depth + aisle, parts, "floor")


def trip_card_svg(trip: Trip, cart: Cart) -> str:
    """One cart load from above, what lies across drawn with a dashed edge, with its number and weight."""
    length, width = sorted((cart.deck_length_cm, cart.deck_width_cm), reverse=True)
    head = 24.0
    parts = [
        _text(f"Trip {trip.trip}: {trip.load_kg:g} kg", length / 2, head / 2, 14, "id"),
        _rect(0, head, length, width, "none", 'class="deck"'),
        *_from_above(trip.stacks, 0, head, frozenset()),
    ]
    spoken = f"{trip.load_kg:g} kg, in loading order: carton {', '.join(trip.cartons)}"
    return _svg(f"Trip {trip.trip}", spoken, length, head + width, parts, f"trip{trip.trip}")


def _from_above(spots: Sequence[Spot], x: float, y: float, moved: frozenset[str]) -> Iterator[str]:
    """Each pile by its largest outline with its cartons, top one first; dashed, what also lies on another pile."""
    piles = {spot: [spot] for spot in spots if spot.z_cm == 0}
    for spot in sorted((s for s in spots if s.z_cm > 0), key=lambda s: s.z_cm):
        piles[max(piles, key=lambda base: _shared(base, spot))].append(spot)
    outlines = {base: max(pile, key=lambda spot: spot.length_cm * spot.width_cm) for base, pile in piles.items()}
    for base, pile in piles.items():
        ids = [carton for spot in reversed(pile) for carton in reversed(spot.cartons)]
        outline = outlines[base] if not any(_shared(outlines[base], b) for b in piles if b is not base) else base
        state = "here" if moved.issuperset(ids) else "stack"
        body = _rect(x + outline.x_cm, y + outline.y_cm, outline.length_cm, outline.width_cm, "var(--card, none)")
        yield f'<g class="{state}">{body}{"".join(_lines(ids, outline, x, y))}</g>'
    for spot in spots:
        if sum(1 for base in piles if _shared(base, spot)) > 1:
            dashed = 'class="across" stroke-dasharray="3 2"'
            yield _rect(x + spot.x_cm, y + spot.y_cm, spot.length_cm, spot.width_cm, "none", dashed)


def _shared(a: Spot, b: Spot) -> float:
    wide = min(a.x_cm + a.length_cm, b.x_cm + b.length_cm) - max(a.x_cm, b.x_cm)
    deep = min(a.y_cm + a.width_cm, b.y_cm + b.width_cm) - max(a.y_cm, b.y_cm)
    return max(0.0, wide) * max(0.0, deep)


def _lines(ids: Sequence[str], base: Spot, x: float, y: float) -> Iterator[str]:
    """The ids in as many columns as make them largest."""
    longest = max(len(one) for one in ids)
    columns = max(
        range(1, len(ids) + 1),
        key=lambda n: min(
            base.length_cm / n / (0.62 * longest + 0.6), base.width_cm / (-(-len(ids) // n) * 1.15 + 0.2)
        ),
    )
    per = -(-len(ids) // columns)
    size = min(base.length_cm / columns / (0.62 * longest + 0.6), base.width_cm / (per * 1.15 + 0.2), 14)
    for number, carton in enumerate(ids):
        column, line = divmod(number, per)
        middle = x + base.x_cm + base.length_cm * (column + 0.5) / columns
        yield _text(carton, middle, y + base.y_cm + size * (0.7 + 1.15 * line), size)


def _hatches(mark: str) -> str:
    """Diagonal lines for missing, dots for inside: told apart without colour."""
    return (
        f'<defs><pattern id="{mark}-{CartonState.SHORT}" width="14" height="14" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line y2="14" stroke="currentColor" stroke-width="2" opacity="0.35"/></pattern>'
        f'<pattern id="{mark}-{CartonState.INSIDE}" width="14" height="14" patternUnits="userSpaceOnUse">'
        '<circle cx="4" cy="4" r="2" fill="currentColor" opacity="0.4"/></pattern></defs>'
    )


def _svg(title: str, spoken: str, width: float, height: float, parts: Iterable[str], mark: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="plan-drawing" role="img" viewBox="-2 -2 {width + 4:g} '
        f'{height + 4:g}" aria-labelledby="{mark}-t {mark}-d" font-family="inherit" text-anchor="middle" '
        f'dominant-baseline="central" fill="currentColor" stroke-width="1.5">'
        f'<title id="{mark}-t">{escape(title)}</title>'
        f'<desc id="{mark}-d">{escape(spoken)}</desc>{"".join(parts)}</svg>'
    )


def _rect(x: float, y: float, width: float, height: float, fill: str, more: str = "") -> str:
    more = f" {more}" if more else ""
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="1.5" fill="{fill}" '
        f'stroke="currentColor"{more}/>'
    )


def _text(words: str, x: float, y: float, size: float, name: str = "") -> str:
    kind = f' class="{name}" font-weight="700"' if name else ""
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:.3g}"{kind}>{escape(words)}</text>'


def _size(words: str, room: float, most: float) -> float:
    """The largest font size up to ``most`` at which the words fit, by a usual width of 0.62 of the size per letter."""
    return min(most, room / (0.62 * max(1, len(words))))
