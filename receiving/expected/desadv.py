"""What each segment of an EDIFACT DESADV says about the packing level and the goods that it stands in.

Source: UN/EDIFACT DESADV, directories D.96A and D.01B; the code lists are from memory.
"""

from collections.abc import Callable

from receiving.expected import edifact_codes as codes
from receiving.expected.edifact_text import Segment, part, words
from receiving.expected.measures import centimetres, kilograms, parse_number
from receiving.expected.notice import NoticeLine
from receiving.expected.packing import Despatch, PackGroup, PackLevel
from receiving.expected.serial_range import counted_out


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
        to.level.stores[who] = None


def _loc(to: Despatch, number: int, segment: Segment) -> None:
    if part(segment, 1) not in codes.PLACE_OF_DELIVERY or not part(segment, 2):
        return
    if to.level is None:
        to.parties.setdefault("DP", part(segment, 2))
    else:
        to.level.stores[part(segment, 2)] = None


def _cps(to: Despatch, number: int, segment: Segment) -> None:
    name, above = part(segment, 1), part(segment, 2)
    parent = to.by_name.get(above) if above else None
    if above and parent is None:
        to.log.warn(
            number, "CPS", f"CPS {name!r} names parent {above!r}, which is not there; it is taken as a top level"
        )
    if name in to.by_name:
        to.log.warn(number, "CPS", f"CPS number {name!r} is used twice in this message")
    to.add(PackLevel(number, name, parent))


def _in_level(to: Despatch, number: int) -> PackLevel:
    """The level that is being read; goods before the first CPS get a level of their own."""
    if to.level is None:
        to.add(PackLevel(number, "0", None))
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
        group.ssccs += counted_out(first, last, to.log, number)


def _mea(to: Despatch, number: int, segment: Segment) -> None:
    if to.level is None or to.line is not None:
        return
    what, unit, value = part(segment, 2), part(segment, 3), part(segment, 3, 1)
    if what in codes.GROSS_WEIGHT:
        to.level.weight_kg = kilograms(value, unit) or to.level.weight_kg
    elif what in ("LN", "WD", "HT") and (size := centimetres(value, unit)):
        to.level.sizes_cm[what] = size


def _lin(to: Despatch, number: int, segment: Segment) -> None:
    level = _in_level(to, number)
    to.line = NoticeLine(number, ((part(segment, 3, 1), part(segment, 3)),) if part(segment, 3) else ())
    to.line_count += 1
    level.lines.append(to.line)


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


HANDLERS: dict[str, Callable[[Despatch, int, Segment], None]] = {
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
