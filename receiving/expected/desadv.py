"""One DESADV message between UNH and UNT: its packing levels, packages and goods."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from receiving.expected import edifact_codes as codes
from receiving.expected.edi_log import EdiLog
from receiving.expected.edifact_text import Segment, part, words
from receiving.expected.measures import centimetres, kilograms, parse_number
from receiving.expected.notice import Notice, NoticeLine, Package
from receiving.expected.serial_range import sscc_range

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
    stores: list[str] = field(default_factory=list)
    weight_kg: float | None = None
    sizes_cm: dict[str, float] = field(default_factory=dict)
    has_children: bool = False
    packages: list[Package] = field(default_factory=list)

    def up(self) -> "Iterator[PackLevel]":
        """This level and those above it."""
        level: PackLevel | None = self
        while level is not None:
            yield level
            level = level.parent


@dataclass
class Despatch:
    """Reads the segments of one message in file order."""

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

    def take(self, number: int, segment: Segment) -> None:
        """Take the next segment."""
        tag = part(segment, 0)
        handler = _HANDLERS.get(tag)
        if handler:
            handler(self, number, segment)
        elif tag not in codes.IGNORED:
            first, count = self.unused.get(tag, (number, 0))
            self.unused[tag] = (first, count + 1)

    def done(self) -> Notice:
        """The notice, once all segments were taken."""
        notice = self.notice
        for tag, (first, count) in self.unused.items():
            times = f"{count} segments" if count > 1 else "segment"
            self.log.list(first, tag, f"{times} {tag!r} of shipment {notice.shipment!r} carry nothing that is used")
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
        if not numbered and not level.has_children:
            self._unnumbered(level)
        self._place_lines(level)

    def _package(self, level: PackLevel, segment: int, fallback: str) -> Package:
        package = Package(segment, fallback, outer=self._outer(level), store=self._store(level))
        package.weight_kg, sizes = level.weight_kg, level.sizes_cm
        package.length_cm, package.width_cm, package.height_cm = sizes.get("LN"), sizes.get("WD"), sizes.get("HT")
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
        stores = next((list(dict.fromkeys(up.stores)) for up in level.up() if up.stores), [])
        if len(stores) > 1:
            said = f"goods of one packing level go to {len(stores)} places of delivery ({', '.join(stores[:5])})"
            self.log.list(level.segment, f"CPS {level.name}", f"{said}; its cartons are listed for the first")
        return stores[0] if stores else ""

    def _place_lines(self, level: PackLevel) -> None:
        """Goods go into the packages of their level, or into the package around it."""
        holders = next((up.packages for up in level.up() if up.packages), [])
        if not holders:
            self.notice.loose += level.lines
        elif level.lines:
            for package in holders:
                package.lines += level.lines
                package.shared = len(holders)

    def _unnumbered(self, level: PackLevel) -> None:
        """Packages that no number is given for are cartons all the same; they must not be lost."""
        counts = [int(count) for group in level.groups if (count := parse_number(group.count)) and count >= 1]
        if counts and counts[0] > MOST_UNNUMBERED:
            said = f"PAC declares {counts[0]:,} packages without a number; more than {MOST_UNNUMBERED:,} are not listed"
            self.log.list(level.segment, f"CPS {level.name}", said)
            counts = []
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


def _bgm(to: Despatch, number: int, segment: Segment) -> None:
    to.notice.shipment = part(segment, 2)
    function = part(segment, 3)
    to.notice.cancels, to.notice.replaces = function in codes.CANCEL, function in codes.REPLACE


def _dtm(to: Despatch, number: int, segment: Segment) -> None:
    name, day = codes.DATES.get(part(segment, 1)), part(segment, 1, 1)
    if name and day and to.level is None:
        _refer(to, name, f"{day[:4]}-{day[4:6]}-{day[6:8]}" if part(segment, 1, 2) in ("102", "203") else day)


def _rff(to: Despatch, number: int, segment: Segment) -> None:
    qualifier, value = part(segment, 1), part(segment, 1, 1)
    if qualifier in codes.REFERENCES and value:
        _refer(to, codes.REFERENCES[qualifier], value)


def _tdt(to: Despatch, number: int, segment: Segment) -> None:
    _refer(to, "carrier", part(segment, 5) or part(segment, 5, 3))


def _refer(to: Despatch, name: str, value: str) -> None:
    if value:
        to.references[name, value] = None


def _nad(to: Despatch, number: int, segment: Segment) -> None:
    role, who = part(segment, 1), part(segment, 2) or part(segment, 4) or part(segment, 3)
    if not who:
        return
    if to.level is None:
        to.parties.setdefault(role, who)
    elif role in codes.STORE_PARTIES:
        to.level.stores.append(who)


def _loc(to: Despatch, number: int, segment: Segment) -> None:
    if part(segment, 1) not in codes.PLACE_OF_DELIVERY or not part(segment, 2):
        return
    if to.level is None:
        to.parties.setdefault("DP", part(segment, 2))
    else:
        to.level.stores.append(part(segment, 2))


def _cps(to: Despatch, number: int, segment: Segment) -> None:
    name, above = part(segment, 1), part(segment, 2)
    parent = to.by_name.get(above) if above else None
    if above and parent is None:
        to.log.warn(
            number, "CPS", f"CPS {name!r} names parent {above!r}, which is not there; it is taken as a top level"
        )
    if name in to.by_name:
        to.log.warn(number, "CPS", f"CPS number {name!r} is used twice in this message")
    level = PackLevel(number, name, parent)
    if parent:
        parent.has_children = True
    to.levels.append(level)
    to.by_name[name] = level
    to.line = None


def _in_level(to: Despatch, number: int) -> PackLevel:
    """The level that is being read; goods before the first CPS get a level of their own."""
    if to.level is None:
        to.levels.append(PackLevel(number, "0", None))
    return to.levels[-1]


def _pac(to: Despatch, number: int, segment: Segment) -> None:
    level = _in_level(to, number)
    if to.line is None:
        level.groups.append(PackGroup(number, part(segment, 1), part(segment, 3) or part(segment, 3, 3)))


def _group(to: Despatch, number: int) -> PackGroup:
    level = _in_level(to, number)
    if not level.groups:
        level.groups.append(PackGroup(number, "", ""))
    return level.groups[-1]


def _pci(to: Despatch, number: int, segment: Segment) -> None:
    marks = [part(segment, 2, at) for at in range(10)]
    _group(to, number).marks += [mark for mark in marks if mark]


def _gin(to: Despatch, number: int, segment: Segment) -> None:
    qualifier = part(segment, 1)
    ranges = [(part(segment, at), part(segment, at, 1)) for at in range(2, len(segment))]
    if qualifier not in codes.SSCC_NUMBERS:
        if qualifier not in codes.OTHER_NUMBERS:
            to.log.list(number, words(segment), f"numbers of kind {qualifier!r} name no carton")
        return
    group = _group(to, number)
    for first, last in ranges:
        counted = sscc_range(first, last) if last and last != first else []
        if last and last != first and not counted:
            to.log.list(number, words(segment), "the range of serial numbers cannot be counted out")
        group.ssccs += counted or [sscc for sscc in (first, last) if sscc]


def _mea(to: Despatch, number: int, segment: Segment) -> None:
    if to.level is None or to.line is not None:
        return
    what, unit, value = part(segment, 2), part(segment, 3), part(segment, 3, 1)
    if what in codes.GROSS_WEIGHT:
        to.level.weight_kg = kilograms(value, unit) or to.level.weight_kg
    elif what in ("LN", "WD", "HT") and (size := centimetres(value, unit)):
        to.level.sizes_cm[what] = size


def _lin(to: Despatch, number: int, segment: Segment) -> None:
    ids = ((part(segment, 3, 1), part(segment, 3)),) if part(segment, 3) else ()
    to.line = NoticeLine(number, ids)
    to.line_count += 1
    _in_level(to, number).lines.append(to.line)


def _pia(to: Despatch, number: int, segment: Segment) -> None:
    if to.line is not None:
        more = ((part(segment, at, 1), part(segment, at)) for at in range(2, len(segment)))
        to.line.ids += tuple(pair for pair in more if pair[1])


def _imd(to: Despatch, number: int, segment: Segment) -> None:
    if to.line is not None and not to.line.description:
        to.line.description = f"{part(segment, 3, 3)} {part(segment, 3, 4)}".strip() or part(segment, 3)


def _qty(to: Despatch, number: int, segment: Segment) -> None:
    qualifier, value = part(segment, 1), part(segment, 1, 1)
    if to.line is not None and qualifier == "12":
        to.line.qty, to.line.unit = value, part(segment, 1, 2)
        to.units += parse_number(value) or 0


def _qvr(to: Despatch, number: int, segment: Segment) -> None:
    difference = part(segment, 1)
    if difference:
        item = f" for item {to.line.ids[0][1]!r}" if to.line and to.line.ids else ""
        to.log.warn(number, "QVR", f"the shipper reports a difference of {difference} to the order{item}", "QVR")


def _cnt(to: Despatch, number: int, segment: Segment) -> None:
    what, value = part(segment, 1), parse_number(part(segment, 1, 1))
    if what == "2" and value != to.line_count:
        to.log.warn(
            number, "CNT", f"CNT+2 counts {part(segment, 1, 1)} lines; the message has {to.line_count}", "CNT lines"
        )
    if what == "1" and (value is None or abs(value - to.units) > 1e-6):
        said = f"CNT+1 says {part(segment, 1, 1)} units in all; the despatched quantities add up to {to.units:g}"
        to.log.warn(number, "CNT", said, "CNT units")


_HANDLERS: dict[str, Callable[[Despatch, int, Segment], None]] = {
    "BGM": _bgm,
    "DTM": _dtm,
    "RFF": _rff,
    "TDT": _tdt,
    "NAD": _nad,
    "LOC": _loc,
    "CPS": _cps,
    "PAC": _pac,
    "PCI": _pci,
    "GIN": _gin,
    "MEA": _mea,
    "LIN": _lin,
    "PIA": _pia,
    "IMD": _imd,
    "QTY": _qty,
    "QVR": _qvr,
    "CNT": _cnt,
}
