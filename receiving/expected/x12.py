"""X12 856 segments -> `Notice`: the HL tree of shipment, order, tare, pack and item in any of its usual structures.

Source: ASC X12 transaction set 856 (004010 to 005010), the meaning of HL, MAN, LIN, SN1, PO4, TD1, TD5, N1, PRF,
REF and CTT; the qualifier lists of element 88 (MAN01), 98 (N101) and 235 (LIN02) are from memory.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from receiving.expected.edi_log import EdiLog
from receiving.expected.measures import centimetres, kilograms, parse_number
from receiving.expected.notice import Notice, NoticeLine, Package
from receiving.expected.serial_range import sscc_range
from receiving.expected.x12_codes import (
    CANCEL,
    DATES,
    IGNORED,
    PACKAGE_LEVELS,
    PRINTED_MARKS,
    REFERENCES,
    REPLACE,
    SHIPMENT_STORE_PARTIES,
    SSCC_MARKS,
    STORE_PARTIES,
)

Segment = list[str]


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
    has_children: bool = False
    holds_packages: bool = False

    def up(self) -> Iterator["Level"]:
        """This level and those above it."""
        level: Level | None = self
        while level is not None:
            yield level
            level = level.parent


def x12_notices(segments: Iterable[tuple[int, Segment]], log: EdiLog) -> Iterator[Notice]:
    """A notice for each 856 of the file; other transaction sets are listed."""
    reader: _Transaction | None = None
    skipping = False
    for number, elements in segments:
        tag = elements[0]
        if tag == "ST":
            if reader:
                yield reader.done(number)
            reader, skipping = _opened(number, elements, log)
        elif tag in ("SE", "GE", "IEA", "ISA", "GS"):
            if reader:
                yield reader.done(number)
            reader, skipping = None, False
        elif reader:
            reader.take(number, elements)
        elif not skipping and tag not in ("TA1",):
            log.list(number, "*".join(elements), "this segment stands outside of a transaction set (ST ... SE)")
    if reader:
        yield reader.done(0)


def _opened(number: int, elements: Segment, log: EdiLog) -> tuple["_Transaction | None", bool]:
    kind = _at(elements, 1)
    if kind == "856":
        return _Transaction(number, log), False
    log.list(number, "*".join(elements), f"transaction set {kind!r} is no advance ship notice (856) and was left out")
    return None, True


def _at(elements: Segment, index: int) -> str:
    return elements[index].strip() if index < len(elements) else ""


@dataclass
class _Transaction:
    """Reads the segments between ST and SE."""

    segment: int
    log: EdiLog
    notice: Notice = field(init=False)
    levels: dict[str, Level] = field(default_factory=dict)
    lines: list[Level] = field(default_factory=list)
    packed: list[Level] = field(default_factory=list)
    at: Level | None = None
    hl_count: int = 0
    units: float = 0
    unused: dict[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.notice = Notice(self.segment)

    def take(self, number: int, elements: Segment) -> None:
        """Take the next segment."""
        tag = elements[0]
        handler = _HANDLERS.get(tag)
        if handler:
            handler(self, number, elements)
        elif tag not in IGNORED:
            first, count = self.unused.get(tag, (number, 0))
            self.unused[tag] = (first, count + 1)

    def done(self, number: int) -> Notice:
        """The notice, once all its segments were taken."""
        for tag, (first, count) in self.unused.items():
            times = f"{count} segments" if count > 1 else "segment"
            self.log.list(
                first, tag, f"{times} {tag!r} of shipment {self.notice.shipment!r} carry nothing that is used"
            )
        if not self.notice.shipment:
            self.log.warn(self.segment, "BSN", "the notice gives no shipment number (BSN02)")
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
                package.orders = tuple(dict.fromkeys(order for up in level.up() for order in up.orders or ()))
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


def _bsn(to: _Transaction, number: int, elements: Segment) -> None:
    to.notice.shipment = _at(elements, 2)
    purpose = _at(elements, 1)
    to.notice.cancels, to.notice.replaces = purpose in CANCEL, purpose in REPLACE


def _hl(to: _Transaction, number: int, elements: Segment) -> None:
    to.hl_count += 1
    name, above, code = _at(elements, 1), _at(elements, 2), _at(elements, 3)
    parent = to.levels.get(above) if above else None
    if above and parent is None:
        parent = _guessed_parent(to.at, code)
        to.log.warn(
            number, "HL", f"HL {name!r} names parent {above!r}, which is not there; the order of levels is used"
        )
    level = Level(number, name, code, parent)
    if name in to.levels:
        to.log.warn(number, "HL", f"HL number {name!r} is used twice in this transaction")
    to.levels[name] = to.at = level
    if parent:
        parent.has_children = True
    if code in PACKAGE_LEVELS:
        to.package(number)


_ORDER = "SOTPI"


def _guessed_parent(last: Level | None, code: str) -> Level | None:
    rank = _ORDER.find(code)
    return next((up for up in last.up() if _ORDER.find(up.code) < rank), None) if last else None


def _man(to: _Transaction, number: int, elements: Segment) -> None:
    if to.at is not None and to.at.code in "SO":
        to.log.list(number, "*".join(elements), "a mark of the whole shipment or order names no carton")
        return
    package = to.package(number)
    if package is None:
        to.log.list(number, "*".join(elements), "this mark stands before the first HL and names no carton")
        return
    _mark(to, package, number, _at(elements, 1), _at(elements, 2), _at(elements, 3))
    if _at(elements, 5):
        _mark(to, package, number, _at(elements, 4), _at(elements, 5), _at(elements, 6))


def _mark(to: _Transaction, package: Package, number: int, qualifier: str, first: str, last: str) -> None:
    if qualifier in SSCC_MARKS:
        numbers = sscc_range(first, last) if last and last != first else [first]
        if not numbers:
            to.log.list(number, f"MAN*{qualifier}*{first}*{last}", "the range of serial numbers cannot be counted out")
            numbers = [first, last]
        package.ssccs += numbers
    elif qualifier in PRINTED_MARKS and not package.printed:
        package.printed = first
    else:
        package.marks += [mark for mark in (first, last) if mark]


def _lin(to: _Transaction, number: int, elements: Segment) -> None:
    if to.at is None:
        to.at = Level(number, "", "I", None)
    pairs = zip(elements[2::2], elements[3::2], strict=False)
    ids = tuple((qualifier.strip(), value.strip()) for qualifier, value in pairs if value.strip())
    line = _line(to, number)
    if line.ids:
        to.at = Level(number, to.at.number, "I", to.at)
        line = _line(to, number)
    line.ids = ids


def _line(to: _Transaction, number: int) -> NoticeLine:
    """The goods of the level that is being read."""
    level = to.at
    assert level is not None
    if level.line is None:
        level.line = NoticeLine(number)
        if level.code not in PACKAGE_LEVELS:
            to.lines.append(level)
    return level.line


def _sn1(to: _Transaction, number: int, elements: Segment) -> None:
    if to.at is None:
        return
    line = _line(to, number)
    line.qty, line.unit = _at(elements, 2), _at(elements, 3)
    to.units += parse_number(line.qty) or 0


def _pid(to: _Transaction, number: int, elements: Segment) -> None:
    if to.at is not None and to.at.line is not None and not to.at.line.description:
        to.at.line.description = _at(elements, 5)


def _po4(to: _Transaction, number: int, elements: Segment) -> None:
    package = to.at.package if to.at else None
    if package is None:
        return
    package.weight_kg = package.weight_kg or kilograms(_at(elements, 6), _at(elements, 7))
    unit = _at(elements, 13)
    package.length_cm = package.length_cm or centimetres(_at(elements, 10), unit)
    package.width_cm = package.width_cm or centimetres(_at(elements, 11), unit)
    package.height_cm = package.height_cm or centimetres(_at(elements, 12), unit)


def _td1(to: _Transaction, number: int, elements: Segment) -> None:
    if to.at is None or to.at.code not in PACKAGE_LEVELS:
        return
    package = to.package(number)
    if package is not None:
        package.weight_kg = kilograms(_at(elements, 7), _at(elements, 8)) or package.weight_kg


def _mea(to: _Transaction, number: int, elements: Segment) -> None:
    package = to.at.package if to.at else None
    if package is None:
        return
    what, value, unit = _at(elements, 2), _at(elements, 3), _at(elements, 4)
    if what in ("G", "WT"):
        package.weight_kg = kilograms(value, unit) or package.weight_kg
    elif what == "LN":
        package.length_cm = centimetres(value, unit) or package.length_cm
    elif what == "WD":
        package.width_cm = centimetres(value, unit) or package.width_cm
    elif what == "HT":
        package.height_cm = centimetres(value, unit) or package.height_cm


def _n1(to: _Transaction, number: int, elements: Segment) -> None:
    role, who = _at(elements, 1), _at(elements, 4) or _at(elements, 2)
    if to.at is None or not who:
        return
    if to.at.parties is None:
        to.at.parties = {}
    to.at.parties[role] = who


def _prf(to: _Transaction, number: int, elements: Segment) -> None:
    if to.at is not None and _at(elements, 1):
        to.at.orders = [*(to.at.orders or ()), _at(elements, 1)]


def _ref(to: _Transaction, number: int, elements: Segment) -> None:
    qualifier, value = _at(elements, 1), _at(elements, 2)
    if to.at is None or to.at.code == "S":
        _refer(to, REFERENCES.get(qualifier, f"reference {qualifier}"), value)


def _td5(to: _Transaction, number: int, elements: Segment) -> None:
    _refer(to, "carrier", _at(elements, 3))
    _refer(to, "routing", _at(elements, 5))


def _dtm(to: _Transaction, number: int, elements: Segment) -> None:
    day = _at(elements, 2)
    if (to.at is None or to.at.code == "S") and _at(elements, 1) in DATES:
        _refer(to, DATES[_at(elements, 1)], f"{day[:4]}-{day[4:6]}-{day[6:8]}" if len(day) == 8 else day)


def _refer(to: _Transaction, name: str, value: str) -> None:
    if value and (name, value) not in to.notice.references:
        to.notice.references.append((name, value))


def _ctt(to: _Transaction, number: int, elements: Segment) -> None:
    lines, units = _at(elements, 1), _at(elements, 2)
    if lines and parse_number(lines) != to.hl_count:
        to.log.warn(number, "CTT", f"CTT01 counts {lines} levels; the transaction has {to.hl_count} HL segments")
    if units and (parse_number(units) is None or abs((parse_number(units) or 0) - to.units) > 1e-6):
        to.log.warn(number, "CTT", f"CTT02 says {units} units in all; the SN1 segments add up to {to.units:g}", "CTT02")


def _sdq(to: _Transaction, number: int, elements: Segment) -> None:
    to.log.list(number, "*".join(elements), "quantities by store (SDQ) do not say which carton goes where")


_HANDLERS: dict[str, Callable[[_Transaction, int, Segment], None]] = {
    "BSN": _bsn,
    "HL": _hl,
    "MAN": _man,
    "LIN": _lin,
    "SN1": _sn1,
    "PID": _pid,
    "PO4": _po4,
    "TD1": _td1,
    "MEA": _mea,
    "N1": _n1,
    "PRF": _prf,
    "REF": _ref,
    "TD5": _td5,
    "DTM": _dtm,
    "CTT": _ctt,
    "SDQ": _sdq,
}
