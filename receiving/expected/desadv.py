"""EDIFACT DESADV segments -> a `Notice` for each: the CPS tree of packing levels, D.96A to D.01B and their like.

Source: UN/EDIFACT DESADV (directories D.96A and D.01B): segment groups of CPS, PAC (with its MEA), PCI (with its RFF,
GIR and GIN) and LIN (with a PCI and GIN of its own, which say in which package that line's goods are).
"""

from collections.abc import Callable, Iterable, Iterator

from receiving.expected import edi_codes as codes
from receiving.expected.desadv_levels import Despatch, LinePack, PackGroup, PackLevel
from receiving.expected.edi import EdiLog, Segment, check_notice_size
from receiving.expected.edi_codes import centimetres, kilograms, parse_number
from receiving.expected.notice import Notice, NoticeLine, counted_out
from receiving.messages import Text, message
from receiving.model import has_valid_check_digit

_ENVELOPE = frozenset({"UNH", "UNT", "UNB", "UNZ"})


def edifact_notices(segments: Iterable[Segment], log: EdiLog) -> Iterator[Notice]:
    """A notice for each DESADV of the file; other messages are listed."""
    despatch: Despatch | None = None
    skipping = False
    for segment in segments:
        if segment.tag in _ENVELOPE:
            if despatch:
                yield despatch.done()
            despatch, skipping = _opened(segment, log) if segment.tag == "UNH" else (None, False)
        elif despatch:
            _take(despatch, segment)
        elif not skipping and segment.tag not in ("UNG", "UNE"):
            log.list(segment.number, segment.text("+"), message("this segment is outside of a message (UNH ... UNT)"))
    if despatch:
        yield despatch.done()


def _opened(segment: Segment, log: EdiLog) -> "tuple[Despatch | None, bool]":
    kind = segment.at(2)
    if kind == "DESADV":
        return Despatch(segment.number, log), False
    log.list(
        segment.number,
        segment.text("+"),
        message("message {kind} is not a despatch advice (DESADV) and was left out", kind=repr(kind)),
    )
    return None, True


def _take(to: Despatch, segment: Segment) -> None:
    """Take the next segment; its values are counted at once, but those that the whole notice decides on."""
    handler = HANDLERS.get(segment.tag)
    if handler is None or handler(to, segment) is not LATER:
        to.log.count(segment)


LATER = object()
"""A handler's answer where the segment's values are counted when the notice is done."""


def _bgm(to: Despatch, segment: Segment) -> None:
    if to.notice.shipment:
        return
    to.notice.shipment = segment.at(2)
    function = segment.at(3)
    to.notice.cancels, to.notice.replaces = function in codes.CANCEL, function in codes.REPLACE
    segment.use(1, 2, 3)


def _dtm(to: Despatch, segment: Segment) -> None:
    name, day = codes.DATES.get(segment.at(1)), segment.at(1, 1)
    if name and day and to.level is None:
        is_day = segment.at(1, 2) in ("102", "203") and day[:8].isdecimal() and len(day) >= 8
        to.references[name, f"{day[:4]}-{day[4:6]}-{day[6:8]}" if is_day else day] = None
        segment.use(1)


def _rff(to: Despatch, segment: Segment) -> None:
    qualifier, value = segment.at(1), segment.at(1, 1)
    if not value:
        return
    if qualifier in codes.CARTON_REFERENCES and to.level is not None:
        group = to.group(segment.number)
        if (parse_number(group.count) or 1) == 1:
            group.marks.append(value)
            segment.use(1)
    elif qualifier in codes.REFERENCES:
        to.references[codes.REFERENCES[qualifier], value] = None
        segment.use(1)


def _tdt(to: Despatch, segment: Segment) -> None:
    carrier = segment.at(5) or segment.at(5, 3)
    if carrier:
        to.references["carrier", carrier] = None
        segment.use(1, 5)


def _nad(to: Despatch, segment: Segment) -> object:
    role, who = segment.at(1), segment.at(2) or segment.at(4) or segment.at(3)
    if not who:
        return None
    if to.level is None and role not in to.parties:
        to.parties[role] = segment
        return LATER
    if to.level is not None and role in codes.STORE_PARTIES and who not in to.level.stores:
        to.level.stores[who] = segment
        return LATER
    return None


def _loc(to: Despatch, segment: Segment) -> object:
    if segment.at(1) not in codes.PLACE_OF_DELIVERY or not segment.at(2):
        return None
    if to.level is None and "DP" not in to.parties:
        to.parties["DP"] = segment
        return LATER
    if to.level is not None and segment.at(2) not in to.level.stores:
        to.level.stores[segment.at(2)] = segment
        return LATER
    return None


def _cps(to: Despatch, segment: Segment) -> None:
    name, above = segment.at(1), segment.at(2)
    itself = above == name
    parent = to.by_name.get(above) if above and not itself else None
    if above and parent is None and not itself:
        stated = message("levels name a parent that is not there; they are taken as top levels")
        to.log.warn(segment.number, "CPS", stated, message("CPS {name} names {above}", name=name, above=repr(above)))
    if name in to.by_name and not itself:
        to.log.warn(segment.number, "CPS", message("CPS numbers are used twice in this message"), repr(name))
    to.add(PackLevel(segment.number, name, parent))
    segment.use_all()


def _pac(to: Despatch, segment: Segment) -> None:
    level = to.in_level(segment.number)
    if to.line is None:
        package_type = segment.at(3) or segment.at(3, 3)
        to.group_count += 1
        check_notice_size(to.group_count, to.log, segment.number, "PAC")
        level.groups.append(PackGroup(segment.number, segment.at(1), package_type))
        segment.use(1)


def _pci(to: Despatch, segment: Segment) -> None:
    if to.line is not None:
        packs, pack = to.line_packs(), LinePack(PackGroup(segment.number))
        if packs is None:
            to.in_level(segment.number).packed.append((to.line, [pack]))
        else:
            packs.append(pack)
    marks = [mark for at in range(10) if (mark := segment.at(2, at))]
    to.group(segment.number).marks += marks
    segment.use(1, 2)


def _gin(to: Despatch, segment: Segment) -> None:
    qualifier = segment.at(1)
    if qualifier not in codes.SSCC_NUMBERS | codes.LABEL_NUMBERS:
        if not _holds_ssccs(segment):
            return
        stated = message(
            "GIN+{qualifier}: its numbers are SSCCs by their length and check digit, and were taken so",
            qualifier=qualifier,
        )
        to.log.warn(segment.number, "GIN", stated)
    group = to.group(segment.number)
    for at in range(2, len(segment.elements)):
        numbers = counted_out(segment.at(at), segment.at(at, 1), to.log, segment.number)
        (group.labels if qualifier in codes.LABEL_NUMBERS else group.ssccs).extend(numbers)
    segment.use_all()


def _holds_ssccs(segment: Segment) -> bool:
    """Every number is 18 digits with a right check digit; by chance one in ten is, so that serial numbers are rare."""
    numbers = [value.strip() for at, value in segment.values() if at > 1]
    return bool(numbers) and all(len(number) == 18 and has_valid_check_digit(number) for number in numbers)


def _gir(to: Despatch, segment: Segment) -> None:
    """Related identification numbers; those of a label name the package."""
    for at in range(2, len(segment.elements)):
        number, qualifier = segment.at(at), segment.at(at, 1)
        if number and qualifier in codes.SSCC_NUMBERS | codes.LABEL_NUMBERS:
            group = to.group(segment.number)
            (group.ssccs if qualifier in codes.SSCC_NUMBERS else group.labels).append(number)
            segment.use(1, at)


def _mea(to: Despatch, segment: Segment) -> object:
    """Measures belong to the PAC before them, or to all packages of the level."""
    if to.level is None or to.line is not None:
        return None
    group = to.level.groups[-1] if to.level.groups else to.level.general
    what, unit, value = segment.at(2), segment.at(3), segment.at(3, 1)
    if what in codes.TOTAL_WEIGHT and kilograms(value, unit):
        group.totals.append(segment)
        return LATER
    if (what in codes.GROSS_WEIGHT and group.weight_kg is not None) or what in group.sizes_cm:
        return None
    if what in codes.GROSS_WEIGHT and (weight := kilograms(value, unit)):
        group.weight_kg = weight
        segment.use(1, 2, 3)
    elif what in codes.SIZES and (size := centimetres(value, unit)):
        group.sizes_cm[what] = size
        segment.use(1, 2, 3)
    return None


def _lin(to: Despatch, segment: Segment) -> None:
    level = to.in_level(segment.number)
    to.line = NoticeLine(segment.number, ((segment.at(3, 1), segment.at(3)),) if segment.at(3) else ())
    to.line_count += 1
    check_notice_size(to.line_count, to.log, segment.number, "LIN")
    level.lines.append(to.line)
    segment.use(1, 3)  # the number of the line, which its place in the notice shows


def _pia(to: Despatch, segment: Segment) -> None:
    if to.line is None:
        return
    for at in range(2, len(segment.elements)):
        value, qualifier = segment.at(at), segment.at(at, 1)
        if value and qualifier not in codes.OTHER_THAN_ITEMS:
            to.line.ids += ((qualifier, value),)
            segment.use(1, at)


def _imd(to: Despatch, segment: Segment) -> None:
    text = f"{segment.at(3, 3)} {segment.at(3, 4)}".strip() or segment.at(3)
    if to.line is not None and text:
        to.line.description = f"{to.line.description}; {text}" if to.line.description else text
        segment.use(1, 2, 3)


def _qty(to: Despatch, segment: Segment) -> None:
    qualifier, value = segment.at(1), segment.at(1, 1)
    if to.line is None or qualifier != codes.DESPATCHED or parse_number(value) is None:
        return
    packs = to.line_packs()
    if packs is not None:
        if packs[-1].qty:
            return
        packs[-1].qty = value
    elif to.line.qty:
        return
    else:
        to.line.qty, to.line.unit = value, segment.at(1, 2)
        to.units += parse_number(value) or 0
    segment.use(1)


def _qvr(to: Despatch, segment: Segment) -> None:
    difference = segment.at(1)
    if difference:
        detail: Text = difference
        if to.line and to.line.ids:
            detail = message("{number} for item {item}", number=difference, item=repr(to.line.ids[0][1]))
        stated = message("the shipper reports a difference to the order")
        to.log.warn(segment.number, "QVR", stated, detail)
        segment.use(1)


def _cnt(to: Despatch, segment: Segment) -> object:
    what, value = segment.at(1), parse_number(segment.at(1, 1))
    if what == codes.LINE_COUNT and value != to.line_count:
        stated = message(
            "CNT+2 counts {lines} lines; the message has {number}", lines=segment.at(1, 1), number=to.line_count
        )
        to.log.warn(segment.number, "CNT", stated)
    if what == codes.TOTAL_UNITS and (value is None or abs(value - to.units) > 1e-6):
        stated = message(
            "CNT+1 says {units} units in all; the despatched quantities add up to {sum}",
            units=segment.at(1, 1),
            sum=float(to.units),
        )
        to.log.warn(segment.number, "CNT", stated)
    if what in (codes.LINE_COUNT, codes.TOTAL_UNITS):
        segment.use(1)
    if what == codes.PACKAGE_COUNT and value is not None:
        to.package_counts.append(segment)
        return LATER
    return None


HANDLERS: dict[str, Callable[[Despatch, Segment], object]] = {
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
    "GIR": _gir,
    "MEA": _mea,
    "LIN": _lin,
    "PIA": _pia,
    "IMD": _imd,
    "QTY": _qty,
    "QVR": _qvr,
    "CNT": _cnt,
}
