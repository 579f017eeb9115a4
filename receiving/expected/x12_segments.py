"""What each segment of an X12 856 says about the level that it stands in.

Source: ASC X12 transaction set 856 (004010 to 005010), the meaning of HL, MAN, LIN, SN1, PO4, TD1, TD5, N1, PRF,
REF and CTT; the qualifier lists of element 88 (MAN01), 98 (N101) and 235 (LIN02) are from memory.
"""

from collections.abc import Callable

from receiving.expected import x12_codes as codes
from receiving.expected.measures import centimetres, kilograms, parse_number
from receiving.expected.notice import NoticeLine, Package
from receiving.expected.serial_range import counted_out
from receiving.expected.x12_levels import Level, Transaction

Segment = list[str]


def at(elements: Segment, index: int) -> str:
    """An element of a segment (1 is the first after the tag), empty where the segment does not have it."""
    return elements[index].strip() if index < len(elements) else ""


def _bsn(to: Transaction, number: int, elements: Segment) -> None:
    to.notice.shipment = at(elements, 2)
    purpose = at(elements, 1)
    to.notice.cancels, to.notice.replaces = purpose in codes.CANCEL, purpose in codes.REPLACE


def _hl(to: Transaction, number: int, elements: Segment) -> None:
    to.hl_count += 1
    name, above, code = at(elements, 1), at(elements, 2), at(elements, 3)
    parent = to.levels.get(above) if above else None
    if parent is None and (above or (code != "S" and to.hl)):
        parent = _guessed_parent(to.hl, code)
        named = f"names parent {above!r}, which is not there" if above else f"of kind {code!r} names no parent"
        to.log.warn(number, "HL", f"HL {name!r} {named}; the order of levels is used", "HL parent")
    if name in to.levels:
        to.log.warn(number, "HL", f"HL number {name!r} is used twice in this transaction", "HL twice")
    to.add(Level(number, name, code, parent))
    if code in codes.PACKAGE_LEVELS:
        to.package(number)


_ORDER = "SOTPI"


def _guessed_parent(last: Level | None, code: str) -> Level | None:
    rank = _ORDER.find(code)
    return next((up for up in last.up() if _ORDER.find(up.code) < rank), None) if last else None


def _man(to: Transaction, number: int, elements: Segment) -> None:
    if to.at is not None and to.at.code in "SO":
        to.log.list(number, "*".join(elements), "a mark of the whole shipment or order names no carton")
        return
    package = to.package(number)
    if package is None:
        to.log.list(number, "*".join(elements), "this mark stands before the first HL and names no carton")
        return
    _mark(to, package, number, at(elements, 1), at(elements, 2), at(elements, 3))
    if at(elements, 5):
        _mark(to, package, number, at(elements, 4), at(elements, 5), at(elements, 6))


def _mark(to: Transaction, package: Package, number: int, qualifier: str, first: str, last: str) -> None:
    if qualifier in codes.SSCC_MARKS:
        package.ssccs += counted_out(first, last, to.log, number)
    elif qualifier in codes.PRINTED_MARKS and not package.printed:
        package.printed = first
    else:
        package.marks += [mark for mark in (first, last) if mark]


def _lin(to: Transaction, number: int, elements: Segment) -> None:
    if to.hl is None:
        to.add(Level(number, "", "I", None))
    if to.at and to.at.line and to.at.line.ids:
        to.at = Level(number, to.at.number, "I", to.hl)  # a second LIN in one HL loop is another line of goods
    pairs = zip(elements[2::2], elements[3::2], strict=False)
    _line(to, number).ids = tuple((qualifier.strip(), value.strip()) for qualifier, value in pairs if value.strip())


def _line(to: Transaction, number: int) -> NoticeLine:
    """The goods of the level that is being read."""
    level = to.at
    assert level is not None
    if level.line is None:
        level.line = NoticeLine(number)
        if level.code not in codes.PACKAGE_LEVELS:
            to.lines.append(level)
    return level.line


def _sn1(to: Transaction, number: int, elements: Segment) -> None:
    if to.at is None:
        return
    line = _line(to, number)
    line.qty, line.unit = at(elements, 2), at(elements, 3)
    to.units += parse_number(line.qty) or 0


def _pid(to: Transaction, number: int, elements: Segment) -> None:
    if to.at is not None and to.at.line is not None and not to.at.line.description:
        to.at.line.description = at(elements, 5)


def _po4(to: Transaction, number: int, elements: Segment) -> None:
    package = to.at.package if to.at else None
    if package is None:
        return
    package.weight_kg = package.weight_kg or kilograms(at(elements, 6), at(elements, 7))
    unit = at(elements, 13)
    package.length_cm = package.length_cm or centimetres(at(elements, 10), unit)
    package.width_cm = package.width_cm or centimetres(at(elements, 11), unit)
    package.height_cm = package.height_cm or centimetres(at(elements, 12), unit)


def _td1(to: Transaction, number: int, elements: Segment) -> None:
    if to.at is None or to.at.code not in codes.PACKAGE_LEVELS:
        return
    package = to.package(number)
    if package is not None:
        package.weight_kg = kilograms(at(elements, 7), at(elements, 8)) or package.weight_kg


def _mea(to: Transaction, number: int, elements: Segment) -> None:
    package = to.at.package if to.at else None
    if package is None:
        return
    what, value, unit = at(elements, 2), at(elements, 3), at(elements, 4)
    if what in ("G", "WT"):
        package.weight_kg = kilograms(value, unit) or package.weight_kg
    elif what == "LN":
        package.length_cm = centimetres(value, unit) or package.length_cm
    elif what == "WD":
        package.width_cm = centimetres(value, unit) or package.width_cm
    elif what == "HT":
        package.height_cm = centimetres(value, unit) or package.height_cm


def _n1(to: Transaction, number: int, elements: Segment) -> None:
    role, who = at(elements, 1), at(elements, 4) or at(elements, 2)
    if to.at is None or not who:
        return
    if to.at.parties is None:
        to.at.parties = {}
    to.at.parties[role] = who


def _prf(to: Transaction, number: int, elements: Segment) -> None:
    if to.at is not None and at(elements, 1):
        if to.at.orders is None:
            to.at.orders = []
        to.at.orders.append(at(elements, 1))


def _ref(to: Transaction, number: int, elements: Segment) -> None:
    qualifier, value = at(elements, 1), at(elements, 2)
    if to.at is None or to.at.code == "S":
        _refer(to, codes.REFERENCES.get(qualifier, f"reference {qualifier}"), value)


def _td5(to: Transaction, number: int, elements: Segment) -> None:
    _refer(to, "carrier", at(elements, 3))
    _refer(to, "routing", at(elements, 5))


def _dtm(to: Transaction, number: int, elements: Segment) -> None:
    day = at(elements, 2)
    if (to.at is None or to.at.code == "S") and at(elements, 1) in codes.DATES:
        _refer(to, codes.DATES[at(elements, 1)], f"{day[:4]}-{day[4:6]}-{day[6:8]}" if len(day) == 8 else day)


def _refer(to: Transaction, name: str, value: str) -> None:
    if value:
        to.references[name, value] = None


def _ctt(to: Transaction, number: int, elements: Segment) -> None:
    lines, units = at(elements, 1), at(elements, 2)
    if lines and parse_number(lines) != to.hl_count:
        to.log.warn(number, "CTT", f"CTT01 counts {lines} levels; the transaction has {to.hl_count} HL segments")
    if units and (parse_number(units) is None or abs((parse_number(units) or 0) - to.units) > 1e-6):
        to.log.warn(number, "CTT", f"CTT02 says {units} units in all; the SN1 segments add up to {to.units:g}", "CTT02")


def _sdq(to: Transaction, number: int, elements: Segment) -> None:
    to.log.list(number, "*".join(elements), "quantities by store (SDQ) do not say which carton goes where")


HANDLERS: dict[str, Callable[[Transaction, int, Segment], None]] = {
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
