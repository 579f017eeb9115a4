"""The CPS tree of one EDIFACT DESADV: which goods lie in which package, for which store, in which outer box."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from receiving.expected import edifact_codes as codes
from receiving.expected.edi_log import EdiLog
from receiving.expected.measures import parse_number
from receiving.expected.notice import Notice, NoticeLine, Package
from receiving.expected.serial_range import MOST_IN_FILE

DEEPEST = 40
"""Levels of packing that are followed; real messages have at most a few."""

MOST_UNNUMBERED = 1_000
"""Cartons without a number that one PAC may stand for; more is taken for an error of the sender."""


@dataclass(slots=True)
class PackGroup:
    """One PAC with its marks: how many packages it declares, and the numbers given for them."""

    segment: int
    count: str
    package_type: str
    ssccs: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)


@dataclass(slots=True)
class PackLevel:
    """One CPS with its pack groups and its goods."""

    segment: int
    name: str
    parent: "PackLevel | None"
    groups: list[PackGroup] = field(default_factory=list)
    lines: list[NoticeLine] = field(default_factory=list)
    stores: dict[str, None] = field(default_factory=dict)
    weight_kg: float | None = None
    sizes_cm: dict[str, float] = field(default_factory=dict)
    has_children: bool = False
    depth: int = 1
    packages: list[Package] = field(default_factory=list)

    def up(self) -> "Iterator[PackLevel]":
        """This level and those above it."""
        level: PackLevel | None = self
        while level is not None:
            yield level
            level = level.parent


@dataclass
class Despatch:
    """One message: its packing levels as they are read, and its notice when all are."""

    segment: int
    log: EdiLog
    notice: Notice = field(init=False)
    levels: list[PackLevel] = field(default_factory=list)
    by_name: dict[str, PackLevel] = field(default_factory=dict)
    parties: dict[str, str] = field(default_factory=dict)
    line: NoticeLine | None = None
    references: dict[tuple[str, str], None] = field(default_factory=dict)
    line_count: int = 0
    units: float = 0
    unused: dict[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.notice = Notice(self.segment)

    @property
    def level(self) -> PackLevel | None:
        """The packing level that is being read."""
        return self.levels[-1] if self.levels else None

    def add(self, level: PackLevel) -> None:
        """Start a level; a tree deeper than any real packing is cut off at its depth, so that walks stay short."""
        if level.parent is not None and level.parent.depth >= DEEPEST:
            self.log.warn(level.segment, "CPS", f"levels are nested deeper than {DEEPEST}", "CPS depth")
            level.parent = level.parent.parent
        if level.parent is not None:
            level.depth = level.parent.depth + 1
            level.parent.has_children = True
        self.levels.append(level)
        self.by_name[level.name] = level
        self.line = None

    def done(self) -> Notice:
        """The notice, once all segments were taken."""
        notice = self.notice
        for tag, (first, count) in self.unused.items():
            said = f"{count} such segment{'s' * (count > 1)} of shipment {notice.shipment!r} gave nothing to a carton"
            self.log.list(first, tag, said)
        if not notice.shipment:
            self.log.warn(self.segment, "BGM", "the notice gives no document number (BGM, C106/1004)")
        notice.store = next((self.parties[role] for role in codes.STORE_PARTIES if role in self.parties), "")
        for level in self.levels:
            self._packages(level)
        self._check_totals()
        notice.references = list(self.references)
        return notice

    def _packages(self, level: PackLevel) -> None:
        numbered = [group for group in level.groups if group.ssccs or group.marks]
        for group in numbered:
            package = self._package(level, group.segment, f"CPS {level.name}")
            package.ssccs, package.marks = group.ssccs, group.marks
        self._say_unnumbered(level, numbered)
        self._say_stores(level)
        if not numbered and not level.has_children:
            self._unnumbered(level)
        self._place_lines(level)
        for package in level.packages:
            package.shared = len(level.packages)

    def _package(self, level: PackLevel, segment: int, fallback: str) -> Package:
        package = Package(segment, fallback, outer=self._outer(level), store=self._store(level))
        package.weight_kg, sizes = level.weight_kg, level.sizes_cm
        package.length_cm, package.width_cm, package.height_cm = sizes.get("LN"), sizes.get("WD"), sizes.get("HT")
        package.lines = level.lines
        level.packages.append(package)
        self.notice.packages.append(package)
        return package

    def _outer(self, level: PackLevel) -> Package | None:
        around = next((up.packages for up in level.up() if up is not level and up.packages), [])
        if len(around) > 1:
            said = f"CPS {level.name!r} lies in one of {len(around)} packages; in which is not told"
            self.log.warn(level.segment, "CPS", said, "outer unclear")
        if len(around) != 1:
            return None
        around[0].holds_packages = True
        return around[0]

    def _store(self, level: PackLevel) -> str:
        stores = next((up.stores for up in level.up() if up.stores), {})
        return next(iter(stores), "")

    def _say_stores(self, level: PackLevel) -> None:
        if len(level.stores) > 1:
            shown = ", ".join(list(level.stores)[:5])
            said = f"its goods go to {len(level.stores)} places of delivery ({shown}); it is listed for the first"
            self.log.list(level.segment, f"CPS {level.name}", said)

    def _place_lines(self, level: PackLevel) -> None:
        """Goods go into the packages of their level, or into the packages around it."""
        holder = next((up for up in level.up() if up.packages), None)
        if holder is None:
            self.notice.loose += level.lines
        elif holder is not level:
            holder.lines += level.lines

    def _unnumbered(self, level: PackLevel) -> None:
        """Packages that no number is given for are cartons all the same; they must not be lost."""
        counts = [int(count) for group in level.groups if (count := parse_number(group.count)) and count >= 1]
        if counts and counts[0] > min(MOST_UNNUMBERED, MOST_IN_FILE - self.log.counted_out):
            said = f"PAC declares {counts[0]:,} packages without a number; so many are not listed one by one"
            self.log.list(level.segment, f"CPS {level.name}", said)
            counts = []
        self.log.counted_out += counts[0] if counts else 0
        for n in range(1, counts[0] + 1 if counts else 1):
            self._package(level, level.segment, f"CPS {level.name}" if counts[0] == 1 else f"CPS {level.name}-{n}")

    def _say_unnumbered(self, level: PackLevel, numbered: Sequence[PackGroup]) -> None:
        for group in level.groups:
            declared, given = parse_number(group.count) or 0, len(group.ssccs) or len(group.marks)
            if given and declared and declared != given:
                said = (
                    f"PAC declares {declared:g} packages; {given} {'number is' if given == 1 else 'numbers are'} given"
                )
                self.log.warn(group.segment, "PAC", said, "PAC count")
                if declared > given:
                    self.log.list(group.segment, f"{declared - given:g} packages of CPS {level.name}", _NO_NUMBER)
            elif numbered and not given and declared:
                said = f"{declared:g} packages ({group.package_type or 'no type'}) inside have no number of their own"
                self.log.warn(group.segment, "PAC", f"{said}; they are not listed one by one", "packages inside")

    def _check_totals(self) -> None:
        """A level that only counts what its lower levels list must count right."""
        totals = {id(level): 0 for level in self.levels}
        for level in self.levels:
            for up in level.up():
                if up is not level:
                    totals[id(up)] += sum(len(package.ssccs) or 1 for package in level.packages)
        for level in self.levels:
            declared = next((parse_number(group.count) for group in level.groups if not level.packages), None)
            if level.has_children and declared and declared != totals[id(level)]:
                said = f"PAC declares {declared:g} packages; the levels below list {totals[id(level)]}"
                self.log.warn(level.segment, "PAC", said, "PAC total")


_NO_NUMBER = "these packages are declared and no number is given for them; count them by hand"
