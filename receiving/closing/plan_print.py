"""The staging plan on paper: one page in large type, legible in black and white, with its figures.

Drawn are cartons from above in layers, and which cartons are for which place of a section.
"""

from collections.abc import Iterator, Sequence
from io import BytesIO
from typing import Any

from reportlab.graphics.shapes import Drawing, Group, Rect, String
from reportlab.lib.colors import black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import SimpleDocTemplate, Spacer, Table

from receiving.closing.paper import BOLD_FAMILY, FAMILY, NO_BREAK, fit_letters, page_size_pt, paragraph, register_family
from receiving.closing.writing import as_drawn
from receiving.messages import ENGLISH, Message, Speaker, Text, figure, joined, listing, message, plural
from receiving.model import (
    Bay,
    BayStaging,
    CartonState,
    Held,
    Layout,
    LiftAdvice,
    Manifest,
    Reconciliation,
    Spot,
    StagingPlan,
    StopBound,
    Trip,
    Units,
    WorkStep,
    ranked_cautions,
    split_into_layers,
)
from receiving.wording import aisle_words, bay_wave_words, both_weights_words, term, trip_wave_words, weight_words

GAP_PT, NAME_PT = 5.0, 5.5
"""Between two layers, and the type size of a layer's number above it."""


def layers_from_above(
    length_cm: float,
    depth_cm: float,
    spots: Sequence[Spot],
    room_pt: tuple[float, float],
    largest_pt: float,
    *,
    speaker: Speaker = ENGLISH,
) -> Any:
    """A deck or floor of this size, layer by layer from the lowest, as large as fits the room: each carton named."""
    layers = split_into_layers(spots)
    columns, unit = _grid(len(layers), length_cm, depth_cm, room_pt)
    wide, deep = length_cm * unit + GAP_PT, depth_cm * unit + GAP_PT + NAME_PT
    rows = -(-len(layers) // columns)
    drawing = Drawing(columns * wide, rows * deep)
    for number, layer in enumerate(layers):
        x, top = number % columns * wide, (rows - number // columns) * deep
        name = speaker.say(message("layer {number}", number=number + 1))
        drawing.add(String(x, top - NAME_PT, fit_letters(name), fontName=FAMILY, fontSize=NAME_PT))
        for shape in _layer(layer, length_cm, depth_cm, unit, largest_pt):
            shape.shift(x, top - NAME_PT - 2 - depth_cm * unit)
            drawing.add(shape)
    return drawing


def _grid(count: int, length_cm: float, depth_cm: float, room_pt: tuple[float, float]) -> tuple[int, float]:
    """How many layers side by side make them largest, and points for a centimetre then."""
    best = (1, 0.0)
    for columns in range(1, count + 1):
        rows = -(-count // columns)
        across = (room_pt[0] / columns - GAP_PT) / length_cm
        down = (room_pt[1] / rows - GAP_PT - NAME_PT) / depth_cm
        if min(across, down) > best[1]:
            best = (columns, min(across, down))
    return best if best[1] > 0 else (count, room_pt[0] / count / length_cm / 2)


def _layer(layer: Sequence[Spot], length_cm: float, depth_cm: float, unit: float, largest_pt: float) -> Iterator[Any]:
    ground = Group(Rect(0, 0, length_cm * unit, depth_cm * unit, fillColor=white, strokeDashArray=[3, 2]))
    yield ground
    for spot in layer:
        x, y = spot.x_cm * unit, (depth_cm - spot.y_cm - spot.width_cm) * unit
        long, wide = spot.length_cm * unit, spot.width_cm * unit
        box = Rect(x, y, long, wide, fillColor=white, strokeColor=black, strokeWidth=0.7)
        yield Group(box, _label(spot.cartons[0], x + long / 2, y + wide / 2, long, wide, largest_pt))


def _label(carton: str, x: float, y: float, long: float, wide: float, largest_pt: float) -> Any:
    words = on_one_line(carton)
    size = max(3.0, min(wide * 0.8, long / (0.6 * len(words) + 0.3), largest_pt))
    text = String(x, y - size * 0.35, words, fontName=BOLD_FAMILY, fontSize=size)
    text.textAnchor = "middle"
    return text


def positions(
    section: str, manifest: Manifest, reconciliation: Reconciliation
) -> dict[tuple[int, int], tuple[str, CartonState]]:
    """The cartons of each position (column, row), and the worst of their states."""
    states = {finding.carton.carton: finding.state for finding in reconciliation.cartons}
    at: dict[tuple[int, int], list[str]] = {}
    for carton in manifest:
        for address in carton.addresses:
            if address.section == section:
                at.setdefault((address.column, address.row), []).append(carton.carton)
    worst_first = (CartonState.SHORT, CartonState.INSIDE, CartonState.RECEIVED)
    found = {}
    for place, cartons in at.items():
        here = {states.get(carton, CartonState.SHORT) for carton in cartons}
        found[place] = (" ".join(cartons), next(state for state in worst_first if state in here))
    return found


def on_one_line(text: str) -> str:
    """The text on one line, in letters that the font has."""
    return fit_letters(as_drawn(" ".join(text.split())))


MARGIN_PT = 30.0

SCALES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.65, 0.6)
"""Type sizes tried until the plan is on one page; a plan that is too long at the last one takes more pages."""

LEADING = 1.22

ARROW = "\N{RIGHTWARDS ARROW}"
"""Stands between a carton and its bay, without a space, so that a line never ends between them."""

SIDE_BY_SIDE = 13.0
"""Grid columns, with those of the row numbers, that stand side by side on a page."""

ROW_HEAD, SIDE_GAP_PT = 0.8, 8.0
"""Width of the row numbers in grid columns, and the gap between two sections."""

PADDINGS = ("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING")

Cells = dict[tuple[int, int], tuple[str, CartonState]]
"""By column and row, the cartons and the worst of their states."""

DRAWN = 0.42
"""Part of the page's width for drawings."""


def plan_pdf(
    plan: StagingPlan,
    manifest: Manifest,
    layout: Layout | None,
    reconciliation: Reconciliation,
    *,
    paper: str = "A4",
    units: Units = Units.METRIC,
    speaker: Speaker = ENGLISH,
) -> bytes:
    """The plan as a PDF (``paper`` "A4" or "Letter"): open first, trips, bays with their floor, order, cautions.

    Loads are in ``units``, cautions in both. The same plan gives the same bytes.
    """
    made = b""
    for scale in SCALES:
        made, pages = _Page(scale, paper, units, speaker).build(plan, manifest, layout, reconciliation)
        if pages == 1:
            break
    return made


class _Page:
    """One attempt to set the plan at one type size."""

    def __init__(self, scale: float, paper: str, units: Units, speaker: Speaker) -> None:
        self.scale = scale
        self.units = units
        self.speaker = speaker
        self.size = page_size_pt(paper)
        self.width = self.size[0] - 2 * MARGIN_PT
        register_family()

    def build(
        self, plan: StagingPlan, manifest: Manifest, layout: Layout | None, reconciliation: Reconciliation
    ) -> tuple[bytes, int]:
        out = BytesIO()
        document = SimpleDocTemplate(
            out,
            pagesize=self.size,
            leftMargin=MARGIN_PT,
            rightMargin=MARGIN_PT,
            topMargin=MARGIN_PT,
            bottomMargin=MARGIN_PT,
            title=self.speaker.say(message("Staging plan for shipment {shipment}", shipment=manifest.shipment)),
            lang=self.speaker.code,
            author="",
            invariant=1,
        )
        document.build(self._story(plan, manifest, layout, reconciliation))
        return out.getvalue(), document.page

    def _story(
        self, plan: StagingPlan, manifest: Manifest, layout: Layout | None, reconciliation: Reconciliation
    ) -> list[Any]:
        here = plural(
            reconciliation.expected,
            "Shipment {shipment}: {here} of {number} carton here",
            "Shipment {shipment}: {here} of {number} cartons here",
            shipment=manifest.shipment,
            here=len(reconciliation.in_state(CartonState.RECEIVED)),
        )
        kinds: dict[str, Text] = {carton.carton: term(carton.kind) for carton in manifest}
        return [
            self._words(message("Staging plan, store {store}", store=manifest.store), 20, bold=True),
            self._words(here, 12),
            *self._open_first(plan, kinds),
            *self._trips(plan, layout),
            *self._bays(plan, layout),
            *self._elevations(manifest, reconciliation),
            *self._steps(plan),
            *self._lines(message("Stays in the back room"), [_held(each) for each in plan.held if not each.missing]),
            *self._lines(message("Missing"), [", ".join(h.carton for h in plan.held if h.missing)]),
            *self._cautions(plan),
            *self._lifting(plan),
            *self._lines(message("Assumed"), plan.assumptions, 7.5),
        ]

    def _open_first(self, plan: StagingPlan, kinds: dict[str, Text]) -> list[Any]:
        if not plan.open_first:
            return []
        named = [
            message("{carton} ({kind})", carton=first.carton, kind=kinds.get(first.carton, ""))
            if first.found
            else message("{carton} ({kind}, MISSING)", carton=first.carton, kind=kinds.get(first.carton, ""))
            for first in plan.open_first
        ]
        first = message("OPEN FIRST: {cartons}", cartons=joined(*named, separator=", "))
        return [self._gap(), self._boxed([[self._words(first, 15, bold=True)]], [self.width])]

    def _trips(self, plan: StagingPlan, layout: Layout | None) -> list[Any]:
        if not plan.trips:
            return []
        bays = {carton: staging.bay for staging in plan.bays for carton in staging.cartons}
        rows = [[self._trip_head(trip), self._trip_load(trip, bays), self._deck(trip, layout)] for trip in plan.trips]
        head = self._words(message("Trips ({counts})", counts=_trip_counts(plan)), 14, bold=True)
        drawn = DRAWN if layout else 0.02
        order = self._words(
            message("Load in this order: the first number first, at the bottom; after the arrow its bay."), 8
        )
        table = self._boxed(rows, [self.width * part for part in (0.22, 0.78 - drawn, drawn)])
        return [self._gap(), head, order, table]

    def _trip_head(self, trip: Trip) -> list[Any]:
        how = weight_words(trip.load_kg, self.units)
        if trip.by_hand:
            how = plural(trip.people, "by hand, {number} person", "by hand, {number} people")
        to: Text = ""
        if trip.stops:
            to = plural(len(trip.stops), "to bay {bays}", "to bays {bays}", bays=listing(trip.stops))
        wave = [self._words(trip_wave_words(trip), 8)] if trip.wave > 1 else []
        title = message("Trip {number}", number=trip.trip)
        return [self._words(title, 15, bold=True), self._words(joined(how, to), 10), *wave]

    def _trip_load(self, trip: Trip, bays: dict[str, str]) -> list[Any]:
        arrow = ARROW if fit_letters(ARROW) == ARROW else ">"  # the fonts that are shipped have none
        loaded = [f"{carton}{f'{arrow}{bays[carton]}' if carton in bays else ''}" for carton in trip.cartons]
        load = [self._words("  ".join(loaded), 12, bold=True)]
        if trip.lifted_off:
            off = message("Lift off {cartons} on the way: they go further.", cartons=", ".join(trip.lifted_off))
            load.append(self._words(off, 8))
        return load

    def _deck(self, trip: Trip, layout: Layout | None) -> Any:
        if layout is None or trip.by_hand or not trip.stacks:
            return ""
        longer, shorter = sorted((layout.cart.deck_length_cm, layout.cart.deck_width_cm), reverse=True)
        room = (self.width * DRAWN - 10, 66 * self.scale)
        return layers_from_above(longer, shorter, trip.stacks, room, 11 * self.scale, speaker=self.speaker)

    def _bays(self, plan: StagingPlan, layout: Layout | None) -> list[Any]:
        if not plan.bays:
            return []
        bays = {bay.bay: bay for bay in layout.bays} if layout else {}
        rows = []
        for staging in plan.bays:
            cartons: list[Text] = [
                message("{carton} (there)", carton=carton) if carton in staging.moved else carton
                for carton in staging.cartons
            ]
            section = bays[staging.bay].section if staging.bay in bays else ""
            name = [self._words(message("Bay {bay}", bay=staging.bay), 14, bold=True), self._words(section, 9)]
            below = joined(*_buried(staging), bay_wave_words(staging), aisle_words(staging))
            load = [self._words(joined(*cartons, separator="  "), 12), self._words(below, 8)]
            rows.append([name, load, self._floor(staging, bays.get(staging.bay))])
        head = self._words(
            message("Bays, in opening order; floor from above in layers, the free way and the fixture on top"),
            14,
            bold=True,
        )
        return [self._gap(), head, self._boxed(rows, [self.width * part for part in (0.18, 0.82 - DRAWN, DRAWN)])]

    def _floor(self, staging: BayStaging, bay: Bay | None) -> Any:
        if bay is None or not staging.spots:
            return self._words(message("no floor free"), 9)
        depth_cm = staging.aisle.floor_depth_cm if staging.aisle else bay.staging_depth_cm
        room = (self.width * DRAWN - 10, 66 * self.scale)
        return layers_from_above(
            bay.staging_length_cm, depth_cm, staging.spots, room, 11 * self.scale, speaker=self.speaker
        )

    def _elevations(self, manifest: Manifest, reconciliation: Reconciliation) -> list[Any]:
        """The sections, those with few columns side by side, each as wide as its columns ask for."""
        sections = [
            (section, positions(section, manifest, reconciliation))
            for section in dict.fromkeys(a.section for carton in manifest for a in carton.addresses)
        ]
        drawn: list[Any] = []
        for row in _side_by_side(sections):
            wide = [self.width * _parts(cells) / sum(_parts(own) for _, own in row) for _, cells in row]
            inner = [self._elevation(*each, w - SIDE_GAP_PT) for each, w in zip(row, wide, strict=True)]
            table = Table([inner], colWidths=wide, hAlign="LEFT")
            table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *((side, (0, 0), (-1, -1), 0) for side in PADDINGS)])
            drawn += [self._gap(), table]
        return drawn

    def _elevation(self, section: str, cells: Cells, width: float) -> list[Any]:
        """A section as a grid of its positions; missing ones in white on black, and in words."""
        columns = sorted({column for column, _ in cells})
        rows = sorted({row for _, row in cells})
        wide = width / _parts(cells)
        size = max(4.5, min(8.5, wide / 6 / self.scale))
        names: tuple[Text, ...] = ("", *(message("Col. {column}", column=column) for column in columns))
        head = [self._words(name, size) for name in names]
        body = [
            [self._words(message("Row {row}", row=row), size), *(self._cell(cells, c, row, size) for c in columns)]
            for row in rows
        ]
        grid = self._boxed([head, *body], [wide * ROW_HEAD, *[wide] * len(columns)])
        grid.setStyle(
            [
                ("BACKGROUND", (j + 1, i + 1), (j + 1, i + 1), "black")
                for i, row in enumerate(rows)
                for j, column in enumerate(columns)
                if (column, row) in cells and cells[column, row][1] is CartonState.SHORT
            ]
        )
        title = message("Section, seen from the front")
        if section:
            title = message("Section {section}, seen from the front", section=section)
        return [self._words(title, 12, bold=True), grid]

    def _cell(self, cells: Cells, column: int, row: int, size: float) -> Any:
        if (column, row) not in cells:
            return self._words("–", size)
        cartons, state = cells[column, row]
        missing = state is CartonState.SHORT
        return self._words(joined(cartons, term(state)), size, bold=missing, white=missing)

    def _steps(self, plan: StagingPlan) -> list[Any]:
        return self._lines(message("Order of work"), list(map(_step, plan.steps)), 9.5)

    def _lifting(self, plan: StagingPlan) -> list[Any]:
        """The hardest lift of each carton above its limit, in two columns; cartons with the same share a line."""
        worst: dict[str, LiftAdvice] = {}
        for lift in plan.lifting:
            if lift.above and (lift.carton not in worst or lift.limit_kg < worst[lift.carton].limit_kg):
                worst[lift.carton] = lift
        hardest = sorted(worst.values(), key=lambda lift: lift.limit_kg / lift.weight_kg)
        if not hardest:
            return []
        always = [words for words in hardest[0].lower if all(words in lift.lower for lift in hardest)]
        alike: dict[Text, list[str]] = {}
        for lift in hardest:
            alike.setdefault(_lift_words(lift, always, self.units), []).append(lift.carton)
        lines = [
            self._words(message("{cartons}: {lift}", cartons=", ".join(cartons), lift=words), 8)
            for words, cartons in alike.items()
        ]
        half = -(-len(lines) // 2)
        rows = [[lines[n], lines[n + half] if n + half < len(lines) else self._words(" ", 8)] for n in range(half)]
        title = message("Lifting: above what is recommended for one person (NIOSH 94-110)")
        lead = message("For each: {advice}.", advice=joined(*always, separator="; ")) if always else ""
        table = self._boxed(rows, [self.width / 2, self.width / 2])
        table.setStyle([("TOPPADDING", (0, 0), (-1, -1), 0.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)])
        return [*self._lines(title, [lead] if lead else [" "], 8), table]

    def _cautions(self, plan: StagingPlan) -> list[Any]:
        """The few that matter most large, the others small: a list of all alike is read by nobody."""
        ranked = ranked_cautions(plan.cautions)
        return [
            *self._lines(message("Take care"), ranked.first, 11),
            *self._lines(message("Also"), ranked.others, 8),
        ]

    def _lines(self, title: Text, lines: Sequence[Text], size: float = 9.5) -> list[Any]:
        lines = [line for line in lines if line]
        if not lines:
            return []
        return [self._gap(), self._words(title, 12, bold=True), *(self._words(line, size) for line in lines)]

    def _words(self, text: Text, size: float, *, bold: bool = False, white: bool = False) -> Any:
        size *= self.scale
        font = BOLD_FAMILY if bold else FAMILY
        style = ParagraphStyle("words", fontName=font, fontSize=size, leading=size * LEADING, splitLongWords=1)
        style.textColor = "white" if white else "black"
        parts = (" ".join(part.split()) for part in self.speaker.say(text).split("  "))
        return paragraph(f" {NO_BREAK} ".join(parts), style)

    def _gap(self) -> Any:
        return Spacer(1, 7 * self.scale)

    def _boxed(self, rows: list[list[Any]], widths: list[float]) -> Any:
        table = Table(rows, colWidths=widths, hAlign="LEFT")
        pad = 3 * self.scale
        table.setStyle(
            [
                ("GRID", (0, 0), (-1, -1), 0.8, black),
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("TOPPADDING", (0, 0), (-1, -1), pad),
                ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
                ("LEFTPADDING", (0, 0), (-1, -1), 5),
                ("RIGHTPADDING", (0, 0), (-1, -1), 5),
            ]
        )
        return table


def _parts(cells: Cells) -> float:
    """How many grid columns a section takes."""
    return len({column for column, _ in cells}) + ROW_HEAD


def _side_by_side(sections: Sequence[tuple[str, Cells]]) -> list[list[tuple[str, Cells]]]:
    """The sections in rows, in their order."""
    rows: list[list[tuple[str, Cells]]] = []
    for section in sections:
        if rows and sum(_parts(cells) for _, cells in (*rows[-1], section)) <= SIDE_BY_SIDE:
            rows[-1].append(section)
        else:
            rows.append([section])
    return rows


def _held(held: Held) -> Message:
    return message("{carton}: {why}", carton=held.carton, why=held.why)


def _trip_counts(plan: StagingPlan) -> Text:
    """How many trips and stops there are, and how sure it is that fewer will not do."""
    bound, stops = plan.bound, plan.stop_bound
    counts = [message("{number} by cart, fewest possible", number=bound.planned)]
    if not bound.proven:
        counts = [message("{number} by cart, at least {least} needed", number=bound.planned, least=bound.at_least)]
    if stops.planned:
        counts.append(_stops_words(stops))
    if not (bound.proven and stops.proven):
        counts.append(message("searched for better ones for about {seconds} s", seconds=float(plan.search_s)))
    return joined(*counts, separator="; ")


def _stops_words(bound: StopBound) -> Message:
    if bound.proven:
        return plural(
            bound.planned, "{number} stop at bays, fewest possible", "{number} stops at bays, fewest possible"
        )
    return plural(
        bound.planned,
        "{number} stop at bays, at least {least} needed",
        "{number} stops at bays, at least {least} needed",
        least=bound.at_least,
    )


def _buried(staging: BayStaging) -> Iterator[Message]:
    """What lies under other cartons here, or has to be put under them."""
    if staging.dug_out:
        yield message("Under cartons that are opened later: {cartons}.", cartons=", ".join(staging.dug_out))
    if staging.restacked:
        late = ", ".join(staging.restacked)
        yield message("To be put under cartons of an earlier trip: {cartons}.", cartons=late)


def _step(step: WorkStep) -> Message:
    cartons: Text = ", ".join(step.cartons) or message("none here yet")
    values = {"number": step.step, "step": step.words, "cartons": cartons}
    if not step.waits_for:
        return message("{number}. {step}: {cartons}.", **values)
    waits = joined(*step.waits_for, separator=", ")
    return message("{number}. {step}: {cartons}. WAITS for {waits}", waits=waits, **values)


def _lift_words(lift: LiftAdvice, always: Sequence[Text], units: Units) -> Text:
    most = message("{lift}: no such lift is recommended", lift=term(lift.hand_over))
    if lift.index is not None:
        most = message(
            "{lift} {limit}, index {index}",
            lift=term(lift.hand_over),
            limit=both_weights_words(lift.limit_kg, units, tenths=True),
            index=figure(lift.index, 1),
        )
    lower = [words for words in lift.lower if words not in always]
    return joined(both_weights_words(lift.weight_kg, units), most, *lower, separator="; ")
