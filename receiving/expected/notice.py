"""An advance ship notice once its messages are understood, and the manifests of it: one for each store."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from receiving.errors import ManifestFaults, words_of_error
from receiving.expected.cells import MAX_ID, MAX_TEXT
from receiving.expected.edi import EdiLog, check_package_size
from receiving.expected.edi_codes import whole_quantity
from receiving.expected.programme_tables import Kit, with_kit
from receiving.expected.results import SegmentFault
from receiving.expected.table import Findings
from receiving.messages import Text, figure, joined, message, plural
from receiving.model import Carton, CartonKind, ContentLine, Manifest, Sscc, has_valid_check_digit, mod10_check_digit
from receiving.model.hidden_characters import find_hidden_character
from receiving.model.limits import A_NUMBER_EACH, LARGEST_QUANTITY, MOST_CARTONS, too_many_cartons

Ids = tuple[tuple[str, str], ...]
"""Identifiers of an item: (qualifier, value) as the message gives them."""

MOST = 10_000
"""Cartons that one range may name; more is taken for an error of the sender."""

MOST_IN_FILE = 100_000
"""Cartons that all ranges of a file may name together, so that a short file cannot ask for millions."""

MOST_UNNUMBERED = 1_000
"""Cartons without a number that one count may stand for; more is taken for an error of the sender."""

NO_REFERENCES: list[tuple[str, str]] = []
"""What packages without an order share; it stays empty."""


@dataclass(slots=True)
class NoticeLine:
    """One line of goods: its identifiers, description, quantity and unit, and its segment in the file."""

    segment: int
    ids: Ids = ()
    description: str = ""
    qty: str = ""
    unit: str = ""

    @property
    def words(self) -> Text:
        """The line as a list of things not understood shows it."""
        named: Text = ", ".join(f"{qualifier} {value}".strip() for qualifier, value in self.ids) or message("no item")
        return joined(f"{self.qty} {self.unit}".strip(), named, self.description)


@dataclass(slots=True)
class Package:
    """One package: SSCCs and other numbers on it, the package that it travels in, its store and its goods.

    ``marks`` are numbers of its label, ``printed`` is the one that people read, and ``fallback`` its id where the
    message gives it none. Weight in kilograms, sizes in centimetres. ``shared``: how many packages the goods are
    spread over; those then hold one and the same list. ``references`` are those of its order.
    """

    segment: int
    fallback: str
    ssccs: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    printed: str = ""
    outer: "Package | None" = None
    store: str = ""
    lines: list[NoticeLine] = field(default_factory=list)
    weight_kg: float | None = None
    length_cm: float | None = None
    width_cm: float | None = None
    height_cm: float | None = None
    holds_packages: bool = False
    shared: int = 1
    references: list[tuple[str, str]] = field(default_factory=lambda: NO_REFERENCES)

    @property
    def is_box(self) -> bool:
        """False for a mere grouping: it holds packages, and has neither a number nor goods of its own."""
        return not self.holds_packages or bool(self.ssccs or self.marks or self.printed or self.lines)

    @property
    def box_around(self) -> "Package | None":
        """The nearest package around this one that is a box."""
        around = self.outer
        while around is not None and not around.is_box:
            around = around.outer
        return around


@dataclass
class Notice:
    """One message: shipment number, purpose, references, packages in file order, and goods without a package."""

    segment: int
    shipment: str = ""
    cancels: bool = False
    replaces: bool = False
    references: list[tuple[str, str]] = field(default_factory=list)
    packages: list[Package] = field(default_factory=list)
    loose: list[NoticeLine] = field(default_factory=list)
    store: str = ""


def set_measure(package: Package, name: str, value: float, log: EdiLog, segment: int) -> None:
    """Set a weight or size; where another one was given, the last is taken and both are said."""
    say_two_measures(getattr(package, name), value, name, log, segment)
    setattr(package, name, value)


def say_two_measures(before: float | None, value: float, name: str, log: EdiLog, segment: int) -> None:
    """Warn where a weight or size was given before and was another one."""
    if before is not None and before != value:
        stated = message("a package has two measures of one kind; the last is taken")
        measures = _TWO_MEASURES[name].filled(first=float(before), second=float(value))
        log.warn(segment, "MEA", stated, measures)


_TWO_MEASURES = {
    "weight_kg": message("weight {first} and {second} kg"),
    "length_cm": message("length {first} and {second} cm"),
    "width_cm": message("width {first} and {second} cm"),
    "height_cm": message("height {first} and {second} cm"),
}


def bare_sscc(text: str) -> str:
    """The 18 digits of an SSCC that is written with spaces, brackets or its application identifier 00."""
    plain = text.replace(" ", "").replace("-", "")
    if plain.startswith("(00)"):
        return plain[4:]
    return plain[2:] if len(plain) == 20 and plain.startswith("00") else plain


def counted_out(first: str, last: str, log: EdiLog, segment: int) -> list[str]:
    """The numbers that a mark names: one, or all of a range; a range that is none is listed, and its ends are kept."""
    if not last or last == first:
        return [first] if first else []
    most = min(MOST, MOST_IN_FILE - log.counted_out)
    numbers = sscc_range(first, last, most) or _label_range(first, last, most)
    log.counted_out += len(numbers)
    if not numbers:
        log.list(
            segment,
            message("{first} to {last}", first=first, last=last),
            message("the range of serial numbers cannot be listed one by one; its two ends are kept"),
        )
    return numbers or [number for number in (first, last) if number]


def sscc_range(first: str, last: str, most: int = MOST) -> list[str]:
    """SSCCs from ``first`` to ``last``; empty when they are not a range (other prefix, wrong order, over ``most``)."""
    start, end = bare_sscc(first), bare_sscc(last)
    if not (_sound(start) and _sound(end)):
        return []
    low, high = int(start[:-1]), int(end[:-1])
    if not low <= high < low + most:
        return []
    bodies = (f"{body:017d}" for body in range(low, high + 1))
    return [body + mod10_check_digit(body) for body in bodies]


def _label_range(first: str, last: str, most: int) -> list[str]:
    """Serial numbers that differ in their last digits alone, ``S0998`` to ``S1002``."""
    digits = len(first) - len(first.rstrip("0123456789"))
    prefix = first[: len(first) - digits]
    if not digits or len(first) != len(last) or len(bare_sscc(first)) == 18 or not last.startswith(prefix):
        return []
    end = last[len(prefix) :]
    if not (first.isascii() and end.isascii() and end.isdecimal()):
        return []
    low, high = int(first[len(prefix) :]), int(end)
    return [f"{prefix}{n:0{digits}d}" for n in range(low, high + 1)] if low <= high < low + most else []


def _sound(digits: str) -> bool:
    return len(digits) == 18 and has_valid_check_digit(digits)


# `Notice` -> manifests: one for each store, every package a carton, goods joined with the kit.


UNKNOWN_STORE = "unknown"

_MEASURES = ("weight_kg", "length_cm", "width_cm", "height_cm")

_LONGEST_ID = 50
"""Longer ids are cut, so that a store or a number can be put behind them."""


@dataclass
class Assembly:
    """Makes the manifests of all notices of one file, with ids that are unique in it."""

    log: EdiLog
    kit: Kit | None
    item_preference: Sequence[str]
    _stores: dict[str, str] = field(default_factory=dict)
    _again: Counter[str] = field(default_factory=Counter)
    _ssccs: set[bytes] = field(default_factory=set)

    def manifests(self, notice: Notice) -> Iterator[Manifest]:
        """The manifests of one notice; a cancellation makes none and is listed."""
        for line in notice.loose:
            self.log.list(line.segment, line.words, message("the message does not say in which carton these goods are"))
        if notice.cancels:
            why = message("this notice cancels the shipment; nothing was loaded from it; close the shipment by hand")
            self.log.list(
                notice.segment,
                plural(
                    len(notice.packages),
                    "shipment {shipment}, {number} carton",
                    "shipment {shipment}, {number} cartons",
                    shipment=notice.shipment,
                ),
                why,
            )
            return
        by_store = _by_store(notice)
        if not notice.packages:
            self.log.warn(notice.segment, "CPS/HL", message("shipments name no carton, only goods"), notice.shipment)
        for store, packages in by_store.items():
            yield self._manifest(notice, store, packages, several=len(by_store) > 1)

    def _manifest(self, notice: Notice, store: str, packages: Sequence[Package], *, several: bool) -> Manifest:
        if not store:
            self.log.warn(notice.segment, "N1/NAD", message("shipments name no store"), notice.shipment)
        store = _clean(store, _LONGEST_ID) or UNKNOWN_STORE
        shipment = self._shipment(notice, store, several=several)
        self._check_size(notice, shipment, packages)
        cartons = _StoreCartons(self.log, self.item_preference, self.kit, self._ssccs)
        for package in packages:
            cartons.add(package)
        lists = {id(package.references): package.references for package in packages}.values()
        named = (*notice.references, *(pair for references in lists for pair in references))
        stated = ((_clean(name).replace("=", " ").strip(), _clean(value)) for name, value in named)
        references = dict.fromkeys(pair for pair in stated if all(pair))
        manifest = Manifest(shipment, store, cartons.done(), None, tuple(references))
        return self._with_kit(manifest)

    def _check_size(self, notice: Notice, shipment: str, packages: Sequence[Package]) -> None:
        number = sum(max(1, len(package.ssccs)) for package in packages)
        if number > MOST_CARTONS:
            what = too_many_cartons(shipment, number, MOST_CARTONS)
            raise ManifestFaults(
                self.log.name, (SegmentFault(notice.segment, 0, what, "BSN/BGM"),), next_step=A_NUMBER_EACH
            )

    def _shipment(self, notice: Notice, store: str, *, several: bool) -> str:
        """The shipment's id: with the store where one notice serves many, with a number where it comes again."""
        plain = _clean(notice.shipment, _LONGEST_ID) or f"segment {notice.segment}"
        name = f"{plain}-{store}" if several or self._stores.get(plain, store) != store else plain
        if name in self._stores and not notice.replaces:
            self._again[name] += 1
            part = self._again[name] + 1
            stated = message("shipments appear again in this file; they were loaded beside the first")
            self.log.warn(notice.segment, "BSN/BGM", stated, message("{name} as {name}-{part}", name=name, part=part))
            name = f"{name}-{part}"
        self._stores[name] = store
        return name

    def _with_kit(self, manifest: Manifest) -> Manifest:
        if self.kit is None:
            return manifest
        found = Findings()
        joined = with_kit(manifest, self.kit, found)
        for warning in found.warnings:
            self.log.warn(0, "kit", warning.message)
        return joined


def _by_store(notice: Notice) -> dict[str, list[Package]]:
    """Packages by store, in file order; an outer box goes with what it holds, into each of their stores."""
    stores: dict[str, dict[int, Package]] = {} if notice.packages else {notice.store: {}}
    for package in notice.packages:
        if package.holds_packages:
            continue
        of_store = stores.setdefault(package.store or notice.store, {})
        chain = [package]
        while (outer := chain[-1].box_around) and id(outer) not in of_store:
            chain.append(outer)
        of_store.update((id(p), p) for p in reversed(chain))
    return {store: list(packages.values()) for store, packages in stores.items()}


@dataclass
class _StoreCartons:
    """The cartons of one store while they are made."""

    log: EdiLog
    preference: Sequence[str]
    kit: Kit | None
    all_ssccs: set[bytes]
    cartons: dict[str, Carton] = field(default_factory=dict)
    by_sscc: dict[Sscc, str] = field(default_factory=dict)
    by_barcode: dict[str, str] = field(default_factory=dict)
    ids: dict[int, str] = field(default_factory=dict)
    again: Counter[str] = field(default_factory=Counter)
    merged: Counter[str] = field(default_factory=Counter)
    contents: dict[tuple[int, int], tuple[ContentLine, ...]] = field(default_factory=dict)

    def done(self) -> tuple[Carton, ...]:
        """All cartons in file order."""
        return tuple(self.cartons.values())

    def add(self, package: Package) -> None:
        """Add the carton, or the cartons where several numbers are given, of this package."""
        numbers = package.ssccs or [""]
        shared = package.shared * len(numbers)
        contents = self._contents(package.lines, shared)
        if shared > 1 and contents:
            stated = message("cartons share one list of goods; what each holds is not told apart")
            self.log.warn(
                package.segment,
                "MAN/GIN",
                stated,
                message("{shared} at {fallback}", shared=shared, fallback=package.fallback),
            )
        if len(numbers) > 1 and package.marks and len(package.marks) != len(numbers):
            stated = message("marks do not say on which of several cartons they are, and were not used")
            self.log.warn(package.segment, "MAN/GIN", stated, ", ".join(package.marks[:50]))
        for at, number in enumerate(numbers):
            marks = package.marks if len(numbers) == 1 else ()
            marks = package.marks[at : at + 1] if len(numbers) == len(package.marks) else marks
            self._add_one(package, number, contents, marks, alone=len(numbers) == 1)

    def _contents(self, lines: Sequence[NoticeLine], shared: int) -> tuple[ContentLine, ...]:
        """The content lines; packages that share one list of goods share them, however many they are."""
        key = (id(lines), shared)
        if shared == 1 or key not in self.contents:
            made = (self._content(line, shared) for line in lines)
            contents = tuple(line for line in made if line != ContentLine())
            if shared == 1:
                return contents
            self.contents[key] = contents
        return self.contents[key]

    def _add_one(
        self, package: Package, number: str, contents: tuple[ContentLine, ...], marks: Sequence[str], *, alone: bool
    ) -> None:
        sscc, faulty = self._number(package, number)
        if sscc and sscc in self.by_sscc:
            self._merge(package, sscc, contents, marks)
            return
        codes = tuple(dict.fromkeys(code for mark in (faulty, *marks) if (code := _number(mark))))
        name = self._name(package, sscc, codes, alone=alone)
        if sscc:
            self._note_sscc(package, sscc, name)
        elif codes:
            self._note_barcode(package, codes[0], name)
        self.ids.setdefault(id(package), name)
        self.cartons[name] = Carton(
            carton=name,
            kind=CartonKind.OUTER if package.holds_packages else CartonKind.OTHER,
            sscc=sscc,
            barcode=next(iter(codes), ""),
            numbers=codes[1:],
            outer=self._outer(package),
            contents=contents,
            weight_kg=package.weight_kg,
            length_cm=package.length_cm,
            width_cm=package.width_cm,
            height_cm=package.height_cm,
        )

    def _name(self, package: Package, sscc: Sscc | None, codes: Sequence[str], *, alone: bool) -> str:
        """What the carton is called: the number printed for people, else its SSCC or barcode, else its level."""
        printed = package.printed if alone else ""
        shown = _clean(printed or str(sscc or "") or next(iter(codes), ""), _LONGEST_ID)
        name = self._unique(shown or _clean(package.fallback, _LONGEST_ID))
        if not shown:
            stated = message("cartons have no number that a label could show")
            self.log.warn(package.segment, "MAN/GIN", stated, name)
        return name

    def _number(self, package: Package, number: str) -> tuple[Sscc | None, str]:
        """The SSCC, or the number as a plain barcode where it is none."""
        if not number:
            return None, ""
        bare = bare_sscc(number)
        try:
            return Sscc(bare), ""
        except ValueError as error:
            stated = message("SSCCs are wrong; the cartons are kept, and a label with exactly this number is received")
            self.log.warn(package.segment, "MAN/GIN", stated, words_of_error(error))
            return None, bare

    def _merge(self, package: Package, sscc: Sscc, contents: tuple[ContentLine, ...], marks: Sequence[str]) -> None:
        name = self.by_sscc[sscc]
        self.merged[name] += 1
        check_package_size(self.merged[name], self.log, package.segment, "MAN/GIN")
        self.ids.setdefault(id(package), name)
        carton = self.cartons[name]
        printed = "" if package.printed == name else package.printed
        known = (carton.carton, carton.barcode)
        more = [code for mark in (printed, *marks) if (code := _number(mark)) and code not in known]
        numbers = tuple(dict.fromkeys((*carton.numbers, *more)))
        self.cartons[name] = self._measured(
            replace(carton, contents=carton.contents + contents, numbers=numbers), package
        )
        stated = message("SSCCs appear again in this shipment; each is one carton, and its goods were put together")
        self.log.warn(package.segment, "MAN/GIN", stated, sscc.digits)

    def _measured(self, carton: Carton, package: Package) -> Carton:
        """The carton with what the package weighs and measures too; the last of two measures is taken."""
        measures = {name: value for name in _MEASURES if (value := getattr(package, name)) is not None}
        for name, value in measures.items():
            say_two_measures(getattr(carton, name), value, name, self.log, package.segment)
        return replace(carton, **measures)

    def _note_sscc(self, package: Package, sscc: Sscc, name: str) -> None:
        self.by_sscc[sscc] = name
        key = int(sscc.digits).to_bytes(8, "big")
        if key in self.all_ssccs and not package.holds_packages:
            self.log.warn(
                package.segment, "MAN/GIN", message("SSCCs are in another shipment of this file too"), sscc.digits
            )
        self.all_ssccs.add(key)

    def _note_barcode(self, package: Package, barcode: str, name: str) -> None:
        first = self.by_barcode.setdefault(barcode, name)
        if first != name:
            stated = message("cartons carry the same barcode and no SSCC; a label cannot tell them apart")
            self.log.warn(
                package.segment,
                "MAN/GIN",
                stated,
                message("{first} and {name} with {barcode}", first=repr(first), name=repr(name), barcode=repr(barcode)),
            )

    def _unique(self, name: str) -> str:
        if name not in self.cartons:
            return name
        while True:
            self.again[name] += 1
            if (other := f"{name}-{self.again[name] + 1}") not in self.cartons:
                return other

    def _outer(self, package: Package) -> str:
        outer = package.box_around
        if outer is None:
            return ""
        if len(outer.ssccs) > 1:
            stated = message("outer boxes are given together; in which of them a carton is, is not said")
            self.log.warn(
                outer.segment,
                "MAN/GIN",
                stated,
                message("{number} at {fallback}", number=len(outer.ssccs), fallback=outer.fallback),
            )
            return ""
        return self.ids.get(id(outer), "")

    def _content(self, line: NoticeLine, shared: int) -> ContentLine:
        qty = whole_quantity(line.qty)
        description = line.description
        if line.qty and qty is None:
            stated = message(
                "quantities are not whole numbers from 1 to {most}, and are in the description",
                most=figure(LARGEST_QUANTITY),
            )
            self.log.warn(line.segment, "SN1/QTY", stated, f"{line.qty!r} {line.unit}".strip())
            description = f"{description} ({line.qty} {line.unit})".strip()
        if qty is not None and shared > 1:
            qty = qty // shared if qty % shared == 0 else None
        item = self._item(line)
        others = tuple(dict.fromkeys(number for _, value in line.ids if (number := _number(value)) and number != item))
        return ContentLine(
            item=item,
            description=_clean(description, MAX_TEXT),
            qty=qty,
            unit=_clean(line.unit),
            item_numbers=others,
        )

    def _item(self, line: NoticeLine) -> str:
        if self.kit is not None:
            known = next((value for _, value in line.ids if self.kit.of(value)), "")
            if known:
                return _clean(known)
        by_qualifier = dict(reversed(line.ids))
        preferred = (by_qualifier[qualifier] for qualifier in self.preference if qualifier in by_qualifier)
        return _clean(next(preferred, line.ids[0][1] if line.ids else ""))


def _number(text: str) -> str:
    """A number of a carton or an item; a semicolon would cut it in two where a table lists several."""
    return _clean(text).replace(";", ",")


def _clean(text: str, longest: int = MAX_ID) -> str:
    """One line without control characters, of at most ``longest`` characters."""
    if find_hidden_character(text, lines=False) is None and "  " not in text:
        return text[:longest].strip()
    printable = "".join(" " if find_hidden_character(sign, lines=False) == 0 else sign for sign in text)
    return " ".join(printable.split())[:longest].strip()
