"""X12 856 segments -> a `Notice` for each: S/O/P/I, S/O/T/P/I, S/P/O/I, S/P/I, S/O/I/P and what lies between them.

Source: ASC X12 transaction set 856 (004010 to 005010), the meaning of HL, MAN, LIN, SN1, CLD, PO4, TD1, TD5, N1, PRF,
REF and CTT.
"""

from collections.abc import Callable, Iterable, Iterator

from receiving.expected import edi_codes as codes
from receiving.expected.asn856_levels import Level, Transaction
from receiving.expected.edi import EdiLog, Segment, check_package_size
from receiving.expected.edi_codes import centimetres, kilograms, parse_number
from receiving.expected.notice import (
    MOST_IN_FILE,
    MOST_UNNUMBERED,
    Notice,
    NoticeLine,
    Package,
    counted_out,
    set_measure,
)
from receiving.messages import message

_ORDER = "SOTPI"
_ENDS = frozenset({"SE", "GE", "IEA", "ISA", "GS"})


def x12_notices(segments: Iterable[Segment], log: EdiLog) -> Iterator[Notice]:
    """A notice for each 856 of the file; other transaction sets are listed."""
    reader: Transaction | None = None
    skipping = False
    for segment in segments:
        tag = segment.tag
        if tag == "ST" or tag in _ENDS:
            if reader:
                yield reader.done()
            reader, skipping = _opened(segment, log) if tag == "ST" else (None, False)
        elif reader:
            _take(reader, segment)
        elif not skipping and tag != "TA1":
            log.list(
                segment.number, segment.text("*"), message("this segment is outside of a transaction set (ST ... SE)")
            )
    if reader:
        yield reader.done()


def _opened(segment: Segment, log: EdiLog) -> "tuple[Transaction | None, bool]":
    kind = segment.at(1)
    if kind == "856":
        return Transaction(segment.number, log), False
    why = message("transaction set {kind} is not an advance ship notice (856) and was left out", kind=repr(kind))
    log.list(segment.number, segment.text("*"), why)
    return None, True


def _take(to: Transaction, segment: Segment) -> None:
    """Take the next segment; its values are counted at once, but those that the whole notice decides on."""
    handler = HANDLERS.get(segment.tag)
    if handler is None or handler(to, segment) is not LATER:
        to.log.count(segment)


LATER = object()
"""A handler's answer where the segment's values are counted when the notice is done."""


def _bsn(to: Transaction, segment: Segment) -> None:
    if to.notice.shipment:
        return
    to.notice.shipment = segment.at(2)
    purpose = segment.at(1)
    to.notice.cancels, to.notice.replaces = purpose in codes.X12_CANCEL, purpose in codes.X12_REPLACE
    segment.use(1, 2, 5)  # BSN05 names the order of levels, which the levels themselves show


def _hl(to: Transaction, segment: Segment) -> None:
    to.hl_count += 1
    name, above, code = segment.at(1), segment.at(2), segment.at(3)
    parent = to.levels.get(above) if above else None
    if parent is None and (above or (code != "S" and to.hl)):
        parent = _guessed_parent(to.hl, code)
        named = (
            message("HL {name} names parent {above}", name=repr(name), above=repr(above))
            if above
            else message("HL {name} of kind {code} names no parent", name=repr(name), code=repr(code))
        )
        stated = message("levels name a parent that is not there; the order of levels is used")
        to.log.warn(segment.number, "HL", stated, named)
    if name in to.levels:
        to.log.warn(segment.number, "HL", message("HL numbers are used twice in this transaction"), repr(name))
    to.add(Level(segment.number, name, code, parent))
    if code in codes.PACKAGE_LEVELS:
        to.package(segment.number)
    segment.use_all()


def _guessed_parent(last: Level | None, code: str) -> Level | None:
    rank = _ORDER.find(code)
    return next((up for up in last.up() if _ORDER.find(up.code) < rank), None) if last else None


def _man(to: Transaction, segment: Segment) -> None:
    package = to.package(segment.number) if to.at is None or to.at.code not in ("S", "O") else None
    if package is None:
        segment.listed = True
        to.log.list(segment.number, segment.text("*"), message("a mark of the whole shipment or order names no carton"))
        return
    for at in (1, 4):
        if segment.at(at + 1):
            _mark(to, package, segment, at)
            segment.use(at, at + 1, at + 2)


def _mark(to: Transaction, package: Package, segment: Segment, at: int) -> None:
    qualifier, first, last = segment.at(at), segment.at(at + 1), segment.at(at + 2)
    if qualifier in codes.SSCC_MARKS:
        package.ssccs += counted_out(first, last, to.log, segment.number)
    elif qualifier in codes.PRINTED_MARKS and not package.printed:
        package.printed = first
        package.marks += [last] if last else []
    else:
        package.marks += [mark for mark in (first, last) if mark]


def _lin(to: Transaction, segment: Segment) -> None:
    if to.hl is None:
        to.add(Level(segment.number, "", "I", None))
    if to.at and to.at.line and to.at.line.ids:
        to.at = Level(segment.number, to.at.number, "I", to.hl)  # a second LIN in one HL loop is another line of goods
    ids = []
    for at in range(2, len(segment.elements) - 1, 2):
        qualifier, value = segment.at(at), segment.at(at + 1)
        if value and qualifier not in codes.X12_OTHER_THAN_ITEMS:
            ids.append((qualifier, value))
            segment.use(at, at + 1)
    to.line(segment.number).ids = tuple(ids)
    segment.use(1)  # the number of the line, which its place in the notice shows


def _sn1(to: Transaction, segment: Segment) -> None:
    if to.at is None:
        return
    line = to.line(segment.number)
    if line.qty or parse_number(segment.at(2)) is None:
        return
    line.qty, line.unit = segment.at(2), segment.at(3)
    to.units += parse_number(line.qty) or 0
    segment.use(1, 2, 3)
    ordered = segment.at(5)
    if ordered:
        segment.use(5, 6)
        if parse_number(ordered) != parse_number(line.qty):
            shown = message(
                "{ordered} ordered, {qty} shipped of {item}",
                ordered=ordered,
                qty=line.qty,
                item=line.ids[0][1] if line.ids else message("an item"),
            )
            to.log.warn(segment.number, "SN1", message("the shipper reports a difference to the order"), shown)


def _cld(to: Transaction, segment: Segment) -> None:
    """Loads of an item that no pack level holds: each is a package with this many units."""
    level = to.at
    count = parse_number(segment.at(1)) or 0
    if level is None or level.line is None or any(up.package for up in level.up()) or count < 1 or count != int(count):
        return
    if count > min(MOST_UNNUMBERED, MOST_IN_FILE - to.log.counted_out):
        return
    to.log.counted_out += int(count)
    start = len(level.loads or ())
    for n in range(start + 1, start + int(count) + 1):
        package = to.new_package(Package(segment.number, f"HL {level.number}-{n}"))
        package.lines.append(NoticeLine(segment.number, qty=segment.at(2)))  # its goods are named when all is read
        level.loads = [*(level.loads or ()), package]
    segment.use(1, 2)


def _pid(to: Transaction, segment: Segment) -> None:
    line = to.at.line if to.at else None
    text = segment.at(5)
    if line is None or not text:
        return
    line.description = f"{line.description}; {text}" if line.description else text
    segment.use(1, 5)


def _po4(to: Transaction, segment: Segment) -> None:
    package = to.at.package if to.at else None
    if package is None:
        return
    if weight := kilograms(segment.at(6), segment.at(7)):
        set_measure(package, "weight_kg", weight, to.log, segment.number)
        segment.use(5, 6, 7)
    for at, name in ((10, "length_cm"), (11, "width_cm"), (12, "height_cm")):
        if size := centimetres(segment.at(at), segment.at(13)):
            set_measure(package, name, size, to.log, segment.number)
            segment.use(at, 13)


def _td1(to: Transaction, segment: Segment) -> object:
    level = to.at
    if level is None:
        return None
    if level.code not in codes.PACKAGE_LEVELS:
        if segment.at(2):
            to.lading.append((segment, level))
            segment.use(1, 2)
        return None
    package = to.package(segment.number)
    if segment.at(2) == "1":
        segment.use(1, 2)
    if package is None or not kilograms(segment.at(7), segment.at(8)):
        return None
    to.weighed.append((segment, package))
    return LATER


def _mea(to: Transaction, segment: Segment) -> None:
    package = to.at.package if to.at else None
    if package is None:
        return
    what, value, unit = segment.at(2), segment.at(3), segment.at(4)
    if what in codes.X12_GROSS_WEIGHT and (weight := kilograms(value, unit)):
        set_measure(package, "weight_kg", weight, to.log, segment.number)
        segment.use(1, 2, 3, 4)
    elif what in codes.X12_SIZES and (size := centimetres(value, unit)):
        set_measure(package, codes.X12_SIZES[what], size, to.log, segment.number)
        segment.use(1, 2, 3, 4)


def _n1(to: Transaction, segment: Segment) -> object:
    role = segment.at(1)
    if to.at is None or not (segment.at(4) or segment.at(2)):
        return None
    if to.at.parties is None:
        to.at.parties = {}
        to.with_parties.append(to.at)
    if role in to.at.parties:
        return None
    to.at.parties[role] = segment
    return LATER


def _prf(to: Transaction, segment: Segment) -> None:
    if _order_refers(to, "order", segment.at(1)):
        segment.use(1)


def _ref(to: Transaction, segment: Segment) -> None:
    qualifier, value = segment.at(1), segment.at(2)
    level = to.at
    used = False
    if level is None or level.code == "S":
        used = to.refer(codes.X12_REFERENCES.get(qualifier, f"reference {qualifier}"), value)
    elif level.code == "O" and qualifier in codes.X12_REFERENCES:
        used = _order_refers(to, codes.X12_REFERENCES[qualifier], value)
    elif value and qualifier in codes.X12_CARTON_REFERENCES:
        used = _carton_number(to, level, value)
    if used:
        segment.use(1, 2)


def _order_refers(to: Transaction, name: str, value: str) -> bool:
    if to.at is None or not value:
        return False
    if to.at.references is None:
        to.at.references = []
        to.order_references.append(to.at.references)
        to.with_references.append(to.at)
    to.at.references.append((name, value))
    return True


def _carton_number(to: Transaction, level: Level, value: str) -> bool:
    """A number of the package around, or of the next load of an item that has none yet."""
    package = next((up.package for up in level.up() if up.package), None)
    if package is None:
        package = next((load for load in level.loads or () if not load.marks), None)
    if package is None:
        return False
    if value not in package.marks:
        check_package_size(len(package.marks), to.log, level.segment, "REF")
        package.marks.append(value)
    return True


def _td5(to: Transaction, segment: Segment) -> None:
    if to.refer("carrier", segment.at(3)):
        segment.use(1, 2, 3)
    if to.refer("routing", segment.at(5)):
        segment.use(5)


def _dtm(to: Transaction, segment: Segment) -> None:
    day, name = segment.at(2), codes.X12_DATES.get(segment.at(1))
    if (to.at is None or to.at.code == "S") and name:
        to.refer(name, f"{day[:4]}-{day[4:6]}-{day[6:8]}" if len(day) == 8 and day.isdecimal() else day)
        segment.use(1, 2)


def _ctt(to: Transaction, segment: Segment) -> None:
    lines, units = segment.at(1), segment.at(2)
    if lines and parse_number(lines) != to.hl_count:
        stated = message(
            "CTT01 counts {lines} levels; the transaction has {number} HL segments", lines=lines, number=to.hl_count
        )
        to.log.warn(segment.number, "CTT", stated)
    if units and (parse_number(units) is None or abs((parse_number(units) or 0) - to.units) > 1e-6):
        stated = message(
            "CTT02 says {units} units in all; the SN1 segments add up to {sum}", units=units, sum=float(to.units)
        )
        to.log.warn(segment.number, "CTT", stated)
    segment.use(1, 2)


def _sdq(to: Transaction, segment: Segment) -> None:
    segment.listed = True
    why = message("quantities by store (SDQ) do not say which carton goes where")
    to.log.list(segment.number, segment.text("*"), why)


HANDLERS: dict[str, Callable[[Transaction, Segment], object]] = {
    "BSN": _bsn,
    "HL": _hl,
    "MAN": _man,
    "LIN": _lin,
    "SN1": _sn1,
    "CLD": _cld,
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
