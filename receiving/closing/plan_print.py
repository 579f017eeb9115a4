"""The staging plan on paper: one page in large type, legible in black and white."""

from collections.abc import Sequence
from io import BytesIO
from typing import Any

from receiving.closing.paper import BOLD_FAMILY, FAMILY, in_letters, page_size_pt, register_family
from receiving.model import CartonState, Layout, Manifest, Reconciliation, Spot, StagingPlan, Trip

MARGIN_PT = 30.0
SCALES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.65, 0.6)
"""Type sizes tried until the plan is on one page; a plan that is too long at the last one takes more pages."""

LEADING = 1.22


def plan_pdf(
    plan: StagingPlan,
    manifest: Manifest,
    layout: Layout | None,
    reconciliation: Reconciliation,
    *,
    paper: str = "A4",
) -> bytes:
    """The plan as a PDF (``paper`` "A4" or "Letter"): open first, trips, bays with their floor, order, cautions.

    The same plan gives the same bytes.
    """
    made = b""
    for scale in SCALES:
        made, pages = _Page(scale, paper).build(plan, manifest, layout, reconciliation)
        if pages == 1:
            break
    return made


class _Page:
    """One attempt to set the plan at one type size."""

    def __init__(self, scale: float, paper: str) -> None:
        self.scale = scale
        self.size = page_size_pt(paper)
        self.width = self.size[0] - 2 * MARGIN_PT
        register_family()

    def build(
        self, plan: StagingPlan, manifest: Manifest, layout: Layout | None, reconciliation: Reconciliation
    ) -> tuple[bytes, int]:
        from reportlab.platypus import SimpleDocTemplate

        out = BytesIO()
        document = SimpleDocTemplate(
            out,
            pagesize=self.size,
            leftMargin=MARGIN_PT,
            rightMargin=MARGIN_PT,
            topMargin=MARGIN_PT,
            bottomMargin=MARGIN_PT,
            title=f"Staging plan for shipment {manifest.shipment}",
            author="",
            invariant=1,
        )
        document.build(self._story(plan, manifest, layout, reconciliation))
        return out.getvalue(), document.page

    def _story(
        self, plan: StagingPlan, manifest: Manifest, layout: Layout | None, reconciliation: Reconciliation
    ) -> list[Any]:
        here = len(reconciliation.in_state(CartonState.RECEIVED))
        kinds = {carton.carton: carton.kind.words for carton in manifest}
        return [
            self._words(f"Staging plan, store {manifest.store}", 20, bold=True),
            self._words(f"Shipment {manifest.shipment}: {here} of {reconciliation.expected} cartons here", 12),
            *self._open_first(plan, kinds),
            *self._trips(plan),
            *self._bays(plan, layout),
            *self._elevations(manifest, reconciliation),
            *self._steps(plan),
            *self._lines("Stays in the back room", [f"{h.carton}: {h.why}" for h in plan.held if not h.missing]),
            *self._lines("Missing", [", ".join(h.carton for h in plan.held if h.missing)]),
            *self._lines("Take care", [caution.text for caution in plan.cautions]),
            *self._lines("Assumed", plan.assumptions, 7.5),
        ]

    def _open_first(self, plan: StagingPlan, kinds: dict[str, str]) -> list[Any]:
        if not plan.open_first:
            return []
        named = [
            f"{first.carton} ({kinds.get(first.carton, '')}{'' if first.found else ', MISSING'})"
            for first in plan.open_first
        ]
        return [
            self._gap(),
            self._boxed([[self._words(f"OPEN FIRST: {', '.join(named)}", 15, bold=True)]], [self.width]),
        ]

    def _trips(self, plan: StagingPlan) -> list[Any]:
        if not plan.trips:
            return []
        bound = plan.bound
        proof = "fewest possible" if bound.proven else f"at least {bound.at_least} needed"
        rows = [[self._trip_head(trip), self._trip_load(trip)] for trip in plan.trips]
        head = self._words(f"Trips ({bound.planned} by cart, {proof})", 14, bold=True)
        return [self._gap(), head, self._boxed(rows, [self.width * 0.24, self.width * 0.76])]

    def _trip_head(self, trip: Trip) -> list[Any]:
        how = f"by hand, {trip.people} people" if trip.by_hand else f"{trip.load_kg:.1f} kg"
        stops = f"to bay {', '.join(trip.stops)}" if trip.stops else ""
        return [self._words(f"Trip {trip.trip}", 15, bold=True), self._words(" ".join((how, stops)).strip(), 10)]

    def _trip_load(self, trip: Trip) -> list[Any]:
        order = "" if trip.by_hand else "first at the bottom, last on top"
        return [self._words("  ".join(trip.cartons), 14, bold=True), *([self._words(order, 8)] if order else [])]

    def _bays(self, plan: StagingPlan, layout: Layout | None) -> list[Any]:
        if not plan.bays:
            return []
        sections = {bay.bay: bay.section for bay in layout.bays} if layout else {}
        rows = []
        for bay in plan.bays:
            cartons = [f"{carton} (there)" if carton in bay.moved else carton for carton in bay.cartons]
            name = [self._words(f"Bay {bay.bay}", 14, bold=True), self._words(sections.get(bay.bay, ""), 9)]
            rows.append([name, self._words("  ".join(cartons), 12), self._floor(plan, layout, bay.bay)])
        head = self._words("Bays, in opening order; floor from above, fixture on top", 14, bold=True)
        return [self._gap(), head, self._boxed(rows, [self.width * part for part in (0.18, 0.5, 0.32)])]

    def _floor(self, plan: StagingPlan, layout: Layout | None, name: str) -> Any:
        from reportlab.graphics.shapes import Drawing, Rect, String
        from reportlab.lib.colors import black, white

        bay = next((b for b in layout.bays if b.bay == name), None) if layout else None
        spots = next((b.spots for b in plan.bays if b.bay == name), ())
        if bay is None or not spots:
            return self._words("no floor free", 9)
        room = self.width * 0.32 - 10
        unit = min(room / bay.staging_length_cm, 60 * self.scale / bay.staging_depth_cm)
        deep = bay.staging_depth_cm * unit
        drawing = Drawing(bay.staging_length_cm * unit, deep)
        drawing.add(Rect(0, 0, bay.staging_length_cm * unit, deep, fillColor=white, strokeDashArray=[3, 2]))
        from_below = sorted(spots, key=lambda spot: spot.z_cm)
        for n, spot in enumerate(from_below):
            x, y = spot.x_cm * unit, deep - (spot.y_cm + spot.width_cm) * unit
            long, wide = spot.length_cm * unit, spot.width_cm * unit
            drawing.add(Rect(x, y, long, wide, fillColor=white, strokeColor=black, strokeWidth=0.7))
            if any(_covers_middle(other, spot) for other in from_below[n + 1 :]):
                continue
            on_top = _line(spot.cartons[-1])
            label = on_top + (f" +{len(spot.cartons) - 1}" if len(spot.cartons) > 1 else "")
            size = max(3.0, min(wide * 0.7, long / (0.66 * len(label) + 0.4), 11 * self.scale))
            text = String(x + long / 2, y + wide / 2 - size * 0.35, label, fontName=BOLD_FAMILY, fontSize=size)
            text.textAnchor = "middle"
            drawing.add(text)
        return drawing

    def _elevations(self, manifest: Manifest, reconciliation: Reconciliation) -> list[Any]:
        """Each section as a grid of its positions; missing ones in white on black, and in words."""
        drawn: list[Any] = []
        for section in dict.fromkeys(a.section for carton in manifest for a in carton.addresses):
            cells = _positions(section, manifest, reconciliation)
            columns = sorted({column for column, _ in cells})
            rows = sorted({row for _, row in cells})
            size = min(8.5, 90 / max(len(columns), 4))
            head = [self._words(words, size) for words in ("", *(f"Col. {column}" for column in columns))]
            body = [
                [self._words(f"Row {row}", size), *(self._cell(cells, c, row, size) for c in columns)] for row in rows
            ]
            wide = self.width / (len(columns) + 0.8)
            grid = self._boxed([head, *body], [wide * 0.8, *[wide] * len(columns)])
            grid.setStyle(
                [
                    ("BACKGROUND", (j + 1, i + 1), (j + 1, i + 1), "black")
                    for i, row in enumerate(rows)
                    for j, column in enumerate(columns)
                    if cells.get((column, row), ("", ""))[1] == CartonState.SHORT.words
                ]
            )
            title = f"Section {section}, seen from the front" if section else "Section, seen from the front"
            drawn += [self._gap(), self._words(title, 12, bold=True), grid]
        return drawn

    def _cell(self, cells: dict[tuple[int, int], tuple[str, str]], column: int, row: int, size: float) -> Any:
        cartons, words = cells.get((column, row), ("–", ""))
        missing = words == CartonState.SHORT.words
        return self._words(f"{cartons} {words}".strip(), size, bold=missing, white=missing)

    def _steps(self, plan: StagingPlan) -> list[Any]:
        lines = []
        for step in plan.steps:
            waits = f" WAITS for {', '.join(step.waits_for)}" if step.waits_for else ""
            lines.append(f"{step.step}. {step.words}: {', '.join(step.cartons) or 'none here yet'}.{waits}")
        return self._lines("Order of work", lines, 9.5)

    def _lines(self, title: str, lines: Sequence[str], size: float = 9.5) -> list[Any]:
        lines = [line for line in lines if line]
        if not lines:
            return []
        return [self._gap(), self._words(title, 12, bold=True), *(self._words(line, size) for line in lines)]

    def _words(self, text: str, size: float, *, bold: bool = False, white: bool = False) -> Any:
        from xml.sax.saxutils import escape

        from reportlab.lib.styles import ParagraphStyle
        from reportlab.platypus import Paragraph

        size *= self.scale
        font = BOLD_FAMILY if bold else FAMILY
        style = ParagraphStyle("words", fontName=font, fontSize=size, leading=size * LEADING, splitLongWords=1)
        style.textColor = "white" if white else "black"
        kept = "   ".join(_line(part) for part in text.split("  "))
        return Paragraph(escape(kept).replace("   ", " &nbsp; "), style)

    def _gap(self) -> Any:
        from reportlab.platypus import Spacer

        return Spacer(1, 7 * self.scale)

    def _boxed(self, rows: list[list[Any]], widths: list[float]) -> Any:
        from reportlab.lib.colors import black
        from reportlab.platypus import Table

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


def _covers_middle(upper: Spot, lower: Spot) -> bool:
    x, y = lower.x_cm + lower.length_cm / 2, lower.y_cm + lower.width_cm / 2
    return upper.x_cm <= x <= upper.x_cm + upper.length_cm and upper.y_cm <= y <= upper.y_cm + upper.width_cm


def _positions(
    section: str, manifest: Manifest, reconciliation: Reconciliation
) -> dict[tuple[int, int], tuple[str, str]]:
    """The cartons of each position (column, row), and the worst of their states in words."""
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
        found[place] = (" ".join(cartons), next(state for state in worst_first if state in here).words)
    return found


def _line(text: str) -> str:
    """The text on one line, in letters that the font has."""
    return in_letters(" ".join(text.split()))
