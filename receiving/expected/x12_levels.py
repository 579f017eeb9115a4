"""The HL tree of one X12 856: which goods lie in which package, for which store, in which outer box."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from receiving.expected.edi_log import EdiLog
from receiving.expected.notice import NO_ORDERS, Notice, NoticeLine, Package
from receiving.expected.x12_codes import SHIPMENT_STORE_PARTIES, STORE_PARTIES

DEEPEST = 40
"""Levels of packing that are followed; real notices have at most seven."""


@dataclass(slots=True)
class Level:
    """One HL loop while its segments are read."""

    segment: int
    number: str
    code: str
    parent: "Level | None"
    package: Package | None = None
    line: NoticeLine | None = None
    parties: dict[str, str] | None = None
    orders: list[str] | None = None
    holds_packages: bool = False
    depth: int = 1

    def up(self) -> Iterator["Level"]:
        """This level and those above it."""
        level: Level | None = self
        while level is not None:
            yield level
            level = level.parent


@dataclass
class Transaction:
    """One 856 between ST and SE: its levels as they are read, and its notice when all are."""

    segment: int
    log: EdiLog
    notice: Notice = field(init=False)
    levels: dict[str, Level] = field(default_factory=dict)
    lines: list[Level] = field(default_factory=list)
    packed: list[Level] = field(default_factory=list)
    hl: Level | None = None
    at: Level | None = None
    references: dict[tuple[str, str], None] = field(default_factory=dict)
    hl_count: int = 0
    units: float = 0
    unused: dict[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.notice = Notice(self.segment)

    def add(self, level: Level) -> None:
        """Start a level; a tree deeper than any real packing is cut off at its depth, so that walks stay short."""
        parent = level.parent
        if parent is not None and parent.depth >= DEEPEST:
            self.log.warn(level.segment, "HL", f"levels are nested deeper than {DEEPEST}", "HL depth")
            level.parent = parent.parent
        level.depth = level.parent.depth + 1 if level.parent else 1
        self.levels[level.number] = self.hl = self.at = level

    def done(self) -> Notice:
        """The notice, once all its segments were taken."""
        for tag, (first, count) in self.unused.items():
            said = (
                f"{count} such segment{'s' * (count > 1)} of shipment {self.notice.shipment!r} gave nothing to a carton"
            )
            self.log.list(first, tag, said)
        if not self.notice.shipment:
            self.log.warn(self.segment, "BSN", "the notice gives no shipment number (BSN02)")
        self.notice.references = list(self.references)
        self._place_lines()
        self._place_stores()
        return self.notice

    def _place_lines(self) -> None:
        """Goods go into the package around them, or, where items hold packs, into each pack below."""
        for level in self.lines:
            line = level.line
            holder = next((up.package for up in level.up() if up.package), None)
            if line and holder is not None:
                holder.lines.append(line)
            elif line and not level.holds_packages:
                self.notice.loose.append(line)
        for level in self.packed:
            if level.package and (line := _own_line(level)):
                level.package.lines.append(line)

    def _place_stores(self) -> None:
        for level in self.packed:
            package = level.package
            if package is not None:
                package.store = next((store for up in level.up() if (store := _store(up))), "")
                package.orders = next((up.orders for up in level.up() if up.orders), NO_ORDERS)
                package.outer = next((up.package for up in level.up() if up is not level and up.package), None)
                package.holds_packages = level.holds_packages
        tops = (level for level in self.levels.values() if level.parent is None)
        self.notice.store = next((store for level in tops if (store := _store(level))), "")

    def package(self, number: int) -> Package | None:
        """The package of the level that is being read; made when a mark stands on a level that is usually none."""
        level = self.at
        if level is None:
            return None
        if level.package is None:
            level.package = Package(number, f"HL {level.number}")
            self.notice.packages.append(level.package)
            self.packed.append(level)
            for up in level.up():
                if up is not level:
                    up.holds_packages = True
        return level.package


def _own_line(level: Level) -> NoticeLine | None:
    """Goods that a pack names itself, or that the item level around it names (shipment, order, item, pack)."""
    own = level.line
    if own and own.ids:
        return own
    if level.holds_packages or (level.package and level.package.lines):
        return None
    around = next((up.line for up in level.up() if up.line and up.line.ids), None)
    if around is None:
        return own
    qty, unit = (own.qty, own.unit) if own else ("", "")
    return NoticeLine(level.segment, around.ids, around.description, qty, unit or around.unit)


def _store(level: Level) -> str:
    order = SHIPMENT_STORE_PARTIES if level.code == "S" else STORE_PARTIES
    parties = level.parties or {}
    return next((parties[role] for role in order if role in parties), "")
