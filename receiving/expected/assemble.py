"""`Notice` -> manifests: one for each store, every package a carton, goods joined with the kit."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from receiving.errors import told_by
from receiving.expected.cells import MAX_ID, MAX_TEXT
from receiving.expected.edi import EdiLog
from receiving.expected.edi_codes import whole_quantity
from receiving.expected.kit import Kit, with_kit
from receiving.expected.notice import Notice, NoticeLine, Package, bare_sscc, say_two_measures
from receiving.expected.table import Findings
from receiving.messages import figure, message, plural
from receiving.model import Carton, CartonKind, ContentLine, Manifest, Sscc
from receiving.model.limits import LARGEST_QUANTITY

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
        cartons = _StoreCartons(self.log, self.item_preference, self.kit, self._ssccs)
        for package in packages:
            cartons.add(package)
        lists = {id(package.references): package.references for package in packages}.values()
        named = (*notice.references, *(pair for references in lists for pair in references))
        said = ((_clean(name).replace("=", " ").strip(), _clean(value)) for name, value in named)
        references = dict.fromkeys(pair for pair in said if all(pair))
        shipment = self._shipment(notice, store, several=several)
        manifest = Manifest(shipment, store, cartons.done(), None, tuple(references))
        return self._with_kit(manifest)

    def _shipment(self, notice: Notice, store: str, *, several: bool) -> str:
        """The shipment's id: with the store where one notice serves many, with a number where it comes again."""
        plain = _clean(notice.shipment, _LONGEST_ID) or f"segment {notice.segment}"
        name = f"{plain}-{store}" if several or self._stores.get(plain, store) != store else plain
        if name in self._stores and not notice.replaces:
            self._again[name] += 1
            part = self._again[name] + 1
            said = message("shipments come again in this file; they were loaded beside the first")
            self.log.warn(notice.segment, "BSN/BGM", said, message("{name} as {name}-{part}", name=name, part=part))
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
            said = message("cartons share one list of goods; what each holds is not told apart")
            self.log.warn(
                package.segment,
                "MAN/GIN",
                said,
                message("{shared} at {fallback}", shared=shared, fallback=package.fallback),
            )
        if len(numbers) > 1 and package.marks and len(package.marks) != len(numbers):
            said = message("marks do not say on which of several cartons they are, and were not used")
            self.log.warn(package.segment, "MAN/GIN", said, ", ".join(package.marks[:50]))
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
            said = message("cartons have no number that a label could show")
            self.log.warn(package.segment, "MAN/GIN", said, name)
        return name

    def _number(self, package: Package, number: str) -> tuple[Sscc | None, str]:
        """The SSCC, or the number as a plain barcode where it is none."""
        if not number:
            return None, ""
        bare = bare_sscc(number)
        try:
            return Sscc(bare), ""
        except ValueError as error:
            said = message("SSCCs are wrong; the cartons are kept, and a label with exactly this number is received")
            self.log.warn(package.segment, "MAN/GIN", said, told_by(error))
            return None, bare

    def _merge(self, package: Package, sscc: Sscc, contents: tuple[ContentLine, ...], marks: Sequence[str]) -> None:
        name = self.by_sscc[sscc]
        self.ids.setdefault(id(package), name)
        carton = self.cartons[name]
        printed = "" if package.printed == name else package.printed
        known = (carton.carton, carton.barcode)
        more = [code for mark in (printed, *marks) if (code := _number(mark)) and code not in known]
        numbers = tuple(dict.fromkeys((*carton.numbers, *more)))
        self.cartons[name] = self._measured(
            replace(carton, contents=carton.contents + contents, numbers=numbers), package
        )
        said = message("SSCCs come again in this shipment; each is one carton, and its goods were put together")
        self.log.warn(package.segment, "MAN/GIN", said, sscc.digits)

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
            said = message("cartons carry the same barcode and no SSCC; a label cannot tell them apart")
            self.log.warn(
                package.segment,
                "MAN/GIN",
                said,
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
            said = message("outer boxes are given together; in which of them a carton is, is not said")
            self.log.warn(
                outer.segment,
                "MAN/GIN",
                said,
                message("{number} at {fallback}", number=len(outer.ssccs), fallback=outer.fallback),
            )
            return ""
        return self.ids.get(id(outer), "")

    def _content(self, line: NoticeLine, shared: int) -> ContentLine:
        qty = whole_quantity(line.qty)
        description = line.description
        if line.qty and qty is None:
            said = message(
                "quantities are not whole numbers from 1 to {most}, and stand in the description",
                most=figure(LARGEST_QUANTITY),
            )
            self.log.warn(line.segment, "SN1/QTY", said, f"{line.qty!r} {line.unit}".strip())
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
    if text.isprintable() and "  " not in text:
        return text[:longest].strip()
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(printable.split())[:longest].strip()
