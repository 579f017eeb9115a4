"""What is known of cartons: the manifest in question, every other open shipment, and what a glance at one tells.

Size classes (small, medium, large, long) are cut where the manifest's own sizes leave the widest gaps, so that they
tell its cartons apart; a manifest of like cartons has none. How often a glance goes wrong is our choice, no source.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from math import erf, log, sqrt

from receiving.model import Address, Carton, CartonKind, Manifest, SizeClass, listed_forms, padded_gtin, shown_forms

GAP = 1.25
"""Cartons whose edges differ by less than a quarter are not told apart by eye."""
LONG = 2.5
"""A carton is long when its longest edge is at least this many times the next."""
SPREAD = 0.1
"""A glance is wrong by about a tenth of the edge (the standard deviation of its logarithm)."""
WRONG_TAP = 0.01
"""One tap in a hundred is not what was meant."""

BY_CUTS = {
    0: (SizeClass.MEDIUM,),
    1: (SizeClass.SMALL, SizeClass.LARGE),
    2: (SizeClass.SMALL, SizeClass.MEDIUM, SizeClass.LARGE),
}


@dataclass(frozen=True)
class Sizes:
    """The size classes of one manifest; ``cuts_cm`` are the edges between them, of a cube as large as the carton."""

    cuts_cm: tuple[float, ...]
    some_long: bool

    @classmethod
    def of(cls, cartons: Iterable[Carton]) -> "Sizes":
        """The classes that these cartons fall into."""
        sized = [carton for carton in cartons if _edges_cm(carton)]
        compact = sorted({_edge_cm(carton) for carton in sized if _slimness(carton) < LONG})
        gaps = sorted((two / one, sqrt(one * two)) for one, two in pairwise(compact) if two / one >= GAP)
        return cls(tuple(sorted(cut for _, cut in gaps[-2:])), any(_slimness(carton) >= LONG for carton in sized))

    @property
    def classes(self) -> tuple[SizeClass, ...]:
        """What a person may say, smallest first; nothing where all cartons look alike."""
        named = (*BY_CUTS[len(self.cuts_cm)], *((SizeClass.LONG,) if self.some_long else ()))
        return named if len(named) > 1 else ()

    def chance(self, stated: SizeClass, carton: Carton) -> float:
        """How likely a person says ``stated`` of this carton."""
        if stated not in self.classes or not _edges_cm(carton):
            return self.chance_unknown(stated)
        return (1 - WRONG_TAP) * self._seen(stated, carton) + WRONG_TAP / len(self.classes)

    def chance_unknown(self, stated: SizeClass) -> float:
        """How likely a person says ``stated`` of a carton whose size is not known: the same for every class."""
        return 1 / len(self.classes) if stated in self.classes else 1.0

    def telling(self, cartons: Iterable[Carton]) -> tuple[SizeClass, ...]:
        """What a person may say to tell these cartons apart; nothing where all of them look alike."""
        looks = {
            max(self.classes, key=lambda stated: self.chance(stated, carton)) for carton in cartons if self.classes
        }
        return self.classes if len(looks) > 1 else ()

    def _seen(self, stated: SizeClass, carton: Carton) -> float:
        long = _above(_slimness(carton), LONG) if self.some_long else 0.0
        if stated is SizeClass.LONG:
            return long
        n = BY_CUTS[len(self.cuts_cm)].index(stated)
        edge = _edge_cm(carton)
        above = [1.0, *(_above(edge, cut) for cut in self.cuts_cm), 0.0]
        return (1 - long) * (above[n] - above[n + 1])


def _above(value: float, cut: float) -> float:
    """How likely a glance puts ``value`` above ``cut``."""
    return (1 + erf(log(value / cut) / SPREAD / sqrt(2))) / 2


def _edges_cm(carton: Carton) -> tuple[float, ...]:
    edges = (carton.length_cm, carton.width_cm, carton.height_cm)
    return tuple(sorted(edge for edge in edges if edge is not None)) if None not in edges else ()


def _edge_cm(carton: Carton) -> float:
    """The edge of a cube of the carton's volume."""
    one, two, three = _edges_cm(carton)
    return float((one * two * three) ** (1 / 3))


def _slimness(carton: Carton) -> float:
    _, next_longest, longest = _edges_cm(carton)
    return longest / next_longest


SHORTEST_WORD = 4
SHORTEST_SLIPPED = 5
"""In a shorter code a typing mistake cannot be told from another code."""
LONG_PART = 6
LONGEST_NUMBER = 10
MOST_PARTS = 50
"""What is a piece of more codes than this says nothing."""
SHIPMENT_SSCC = re.compile(r"00(\d{18})")
_GAPS = str.maketrans("", "", " -\u00a0\u2009\u202f")


@dataclass(frozen=True)
class Listed:
    """A carton on a manifest other than the one in question."""

    manifest: Manifest
    carton: Carton

    @property
    def whose(self) -> tuple[str, str, str]:
        """Whose carton it is: store, shipment, carton."""
        return self.manifest.store, self.manifest.shipment, self.carton.carton


@dataclass(frozen=True)
class Elsewhere:
    """The cartons of the other open shipments, found by their codes; built once and used for many shipments."""

    manifests: tuple[Manifest, ...] = ()
    by_code: dict[str, tuple[Listed, ...]] = field(default_factory=dict)
    by_shipment: dict[str, Manifest] = field(default_factory=dict)
    stores: frozenset[str] = frozenset()

    @classmethod
    def of(cls, others: Iterable[Manifest]) -> "Elsewhere":
        """The index of these manifests, in a fixed order whatever the order given."""
        manifests = _each_once(others)
        found: dict[str, list[Listed]] = {}
        for manifest in manifests:
            for carton in manifest:
                for form in dict.fromkeys(form for code in codes_of(carton) for form in listed_forms(code)):
                    found.setdefault(form, []).append(Listed(manifest, carton))
        return cls(
            manifests,
            {code: tuple(listed) for code, listed in found.items()},
            {m.shipment.casefold(): m for m in reversed(manifests)},
            frozenset(plain_store(m.store) for m in manifests),
        )

    def holding(self, code: str, this: Manifest) -> tuple[Listed, ...]:
        """The cartons of other shipments that carry this code."""
        for form in shown_forms(code):
            if found := [hit for hit in self.by_code.get(form, ()) if hit.manifest.shipment != this.shipment]:
                return tuple(found)
        return ()

    def at(self, address: Address, this: Manifest) -> tuple[Listed, ...]:
        """The cartons of other shipments at this address."""
        found = self._by_cell.get((address.column, address.row), ())
        return tuple(
            hit
            for hit in found
            if hit.manifest.shipment != this.shipment and any(address.fits(own) for own in hit.carton.addresses)
        )

    @cached_property
    def _by_cell(self) -> dict[tuple[int, int], list[Listed]]:
        found: dict[tuple[int, int], list[Listed]] = {}
        for manifest in self.manifests:
            for carton in manifest:
                for cell in sorted({(at.column, at.row) for at in carton.addresses}):
                    found.setdefault(cell, []).append(Listed(manifest, carton))
        return found


class Catalogue:
    """One manifest's cartons by code, by carton id, by address and by what a person may type of them.

    Tuples of carton ids are sorted by id, so that nothing hangs on the order of the manifest's rows.
    """

    def __init__(self, manifest: Manifest, elsewhere: Elsewhere) -> None:
        self.manifest = manifest
        self.elsewhere = elsewhere
        self.by_id = {carton.carton: carton for carton in manifest}
        by_code: dict[str, list[str]] = {}
        for name in sorted(self.by_id):
            for code in codes_of(self.by_id[name]):
                by_code.setdefault(padded_gtin(code), []).append(name)
        self.by_looks: dict[object, tuple[str, ...]] = {}
        self.by_code = {code: tuple(dict.fromkeys(names)) for code, names in by_code.items()}

    @cached_property
    def by_form(self) -> dict[str, tuple[str, ...]]:
        """The ids of the cartons by every form in which their codes may be written, sorted."""
        found: dict[str, dict[str, None]] = {}
        for name in sorted(self.by_id):
            for form in (form for code in codes_of(self.by_id[name]) for form in listed_forms(code)):
                found.setdefault(form, {})[name] = None
        return {form: tuple(names) for form, names in found.items()}

    @cached_property
    def sizes(self) -> Sizes:
        """How large its cartons are beside each other."""
        return Sizes.of(self.manifest)

    @cached_property
    def codes(self) -> dict[str, tuple[str, ...]]:
        """The ids of the cartons by code, in lower case."""
        found: dict[str, list[str]] = {}
        for name in sorted(self.by_id):
            for code in codes_of(self.by_id[name]):
                found.setdefault(code.casefold(), []).append(name)
        return {code: tuple(names) for code, names in found.items()}

    @cached_property
    def shapes(self) -> frozenset[str]:
        """How the barcodes of this manifest are built."""
        return frozenset(shape(carton.barcode) for carton in self.manifest if carton.barcode)

    @cached_property
    def by_cell(self) -> dict[tuple[int, int], list[tuple[Address, str]]]:
        """The cartons by column and row, each with the address that is there."""
        found: dict[tuple[int, int], list[tuple[Address, str]]] = {}
        for name in sorted(self.by_id):
            for line in self.by_id[name].contents:
                at = line.address
                if at is not None:
                    found.setdefault((at.column, at.row), []).append((at, name))
        return found

    @cached_property
    def by_column(self) -> dict[int, tuple[str, ...]]:
        """The cartons by column, whatever the row."""
        found: dict[int, list[str]] = {}
        for (column, _), cell in sorted(self.by_cell.items()):
            found.setdefault(column, []).extend(name for _, name in cell)
        return {column: tuple(sorted(set(names))) for column, names in found.items()}

    @cached_property
    def by_number(self) -> dict[int, tuple[str, ...]]:
        """The cartons by the number that their id is, whatever zeros stand before it."""
        found: dict[int, list[str]] = {}
        for name in sorted(self.by_id):
            number = number_of(name)
            if number is not None:
                found.setdefault(number, []).append(name)
        return {number: tuple(names) for number, names in found.items()}

    def with_code(self, code: str) -> tuple[str, ...]:
        """The ids of the cartons with this SSCC or barcode, sorted."""
        exact = self.by_code.get(padded_gtin(code))
        return exact or next((found for form in shown_forms(code) if (found := self.by_form.get(form))), ())

    @cached_property
    def _by_folded_id(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for name in sorted(self.by_id):
            found[name.casefold()] = (*found.get(name.casefold(), ()), name)
        return found

    def with_id(self, text: str) -> tuple[str, ...]:
        """The carton with this id as it is printed, whatever its case."""
        return (text,) if text in self.by_id else self._by_folded_id.get(text.casefold(), ())

    def with_typed_id(self, text: str) -> tuple[str, ...]:
        """The carton with this id, or those of which it is the number: a person types 7 or 007 for 07."""
        number = number_of(text)
        return self.with_id(text) or (self.by_number.get(number, ()) if number is not None else ())

    def with_number(self, number: int) -> tuple[str, ...]:
        """The cartons whose id is this number."""
        return self.by_number.get(number, ())

    def at(self, address: Address) -> tuple[str, ...]:
        """The ids of the cartons with a content line at this address, sorted."""
        cell = self.by_cell.get((address.column, address.row), ())
        return tuple(dict.fromkeys(carton for own, carton in cell if address.fits(own)))

    @cached_property
    def outer_count(self) -> int:
        """How many of the cartons are outer boxes."""
        return sum(carton.kind is CartonKind.OUTER for carton in self.manifest)

    @cached_property
    def totals(self) -> frozenset[int | None]:
        """What "carton 7 of N" may say for N: all cartons, or those without the outer boxes; None where it is torn."""
        return frozenset((None, len(self.by_id), len(self.by_id) - self.outer_count))

    @cached_property
    def items(self) -> dict[str, tuple[str, ...]]:
        """The cartons of each item number that is long enough to be told from other print, folded."""
        found: dict[str, tuple[str, ...]] = {}
        for name in sorted(self.by_id):
            for line in self.by_id[name].contents:
                if len(line.item) >= SHORTEST_WORD:
                    word = line.item.casefold()
                    found[word] = tuple(dict.fromkeys((*found.get(word, ()), name)))
        return found

    @cached_property
    def shared_with_others(self) -> frozenset[str]:
        """The codes, as plain text, that are on this manifest and on another one as well."""
        both = self.by_code.keys() & self.elsewhere.by_code.keys()
        return frozenset(plain_text(c) for carton in self.manifest for c in codes_of(carton) if padded_gtin(c) in both)

    def with_raw(self, raw: str) -> tuple[str, ...]:
        """The ids of the cartons whose label may carry this raw text: the barcode as is, or AI 00 and the SSCC."""
        sscc = SHIPMENT_SSCC.match(raw)
        return self.with_code(raw) or (self.with_code(sscc[1]) if sscc else ())

    # What a person types

    @cached_property
    def _by_plain_text(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for code, names in self.codes.items():
            found[plain_text(code)] = tuple(sorted({*found.get(plain_text(code), ()), *names}))
        return found

    def listed_codes(self, text: str) -> tuple[str, ...]:
        """The codes as the manifest lists them that a person may mean with this text."""
        return tuple(
            dict.fromkeys(
                code
                for name in self.typed_code(text)
                for code in codes_of(self.by_id[name])
                if plain_text(code) == plain_text(text)
            )
        )

    def typed_code(self, text: str) -> tuple[str, ...]:
        """The cartons with this code, whatever its case, spaces and hyphens."""
        return self._by_plain_text.get(plain_text(text), ())

    @cached_property
    def _all_codes(self) -> str:
        return "".join(f"\n{code}" for code in self.codes) + "\n"

    def with_part(self, part: str) -> tuple[str, ...]:
        """The codes (folded) of which this text can be a piece, see `fits_part`; at most `MOST_PARTS`, else none.

        A text without stars is looked for in all codes at once, as one string.
        """
        part = part.casefold()
        if set(part) & set("*?"):
            pattern = part_pattern(part)
            found = [code for code in self.codes if pattern.fullmatch(code)]
        else:
            found = self._containing(part if len(part) >= LONG_PART else f"{part}\n")
            found = [code for code in found if fits_part(code, part)]
        return tuple(found) if len(found) <= MOST_PARTS else ()

    def _containing(self, part: str) -> list[str]:
        found: list[str] = []
        text, start = self._all_codes, 0
        while (at := text.find(part, start)) >= 0 and len(found) <= MOST_PARTS:
            begin, end = text.rfind("\n", 0, at + 1) + 1, text.find("\n", at)
            found.append(text[begin:end])
            start = end
        return found

    @cached_property
    def _by_deletion(self) -> dict[str, str]:
        """Every code without one of its characters, and whole: two texts that are one slip apart share one of these.

        The codes of each as lines of one text: sets of one would be most of what is in memory.
        """
        found: dict[str, str] = {}
        for code in self._by_plain_text:
            if len(code) >= SHORTEST_SLIPPED:
                for left in drop_each_character(code):
                    found[left] = f"{found[left]}\n{code}" if left in found else code
        return found

    def near(self, text: str) -> tuple[str, ...]:
        """The cartons with a code that is one typing mistake away from this text, sorted."""
        text = plain_text(text)
        lines = (self._by_deletion.get(left, "") for left in drop_each_character(text))
        codes = {code for line in lines if line for code in line.split("\n")}
        one_off = (code for code in codes if one_slip_apart(text, code))
        return tuple(sorted({name for code in one_off for name in self._by_plain_text[code]}))


def drop_each_character(text: str) -> set[str]:
    """The text, and the text without each one of its characters."""
    return {text, *(text[:n] + text[n + 1 :] for n in range(len(text)))}


def one_slip_apart(typed: str, code: str) -> bool:
    """One character wrong, missing, too many, or two neighbours swapped, and nothing else.

    The slips that make up most errors in copied numbers (Damerau 1964, doi:10.1145/363958.363994).

    >>> one_slip_apart("395200000000010049", "395200000000010042"), one_slip_apart("3592", "3952")
    (True, True)
    """
    if typed == code or abs(len(typed) - len(code)) > 1:
        return False
    shorter = min(len(typed), len(code))
    start = next((n for n in range(shorter) if typed[n] != code[n]), shorter)
    one, two = typed[start:], code[start:]
    if len(one) != len(two):
        return one[1:] == two if len(one) > len(two) else one == two[1:]
    return one[1:] == two[1:] or (one[1::-1] + one[2:]) == two


def fits_part(code: str, part: str) -> bool:
    """True when ``part`` can be a piece of ``code``: ``*`` and ``?`` stand for what cannot be read.

    A part without such a mark is the end of the code, or, from six characters on, any piece of it; a code without one
    or two of its characters is a typing mistake, and no part.

    >>> fits_part("395200000000010048", "0048"), fits_part("395200000000010048", "3952*0048")
    (True, True)
    """
    code, part = code.casefold(), part.casefold()
    if not set(part) & set("*?"):
        return len(part) < len(code) and (code.endswith(part) or (len(part) >= LONG_PART and part in code))
    return part_pattern(part).fullmatch(code) is not None


def part_pattern(part: str) -> re.Pattern[str]:
    """The part as an expression that takes linear time: what lies between two stars is taken at its first place."""
    pieces = ["".join("." if c == "?" else re.escape(c) for c in piece) for piece in part.split("*")]
    if len(pieces) == 1:
        return re.compile(pieces[0])
    middle = "".join(f"(?>.*?{piece})" for piece in pieces[1:-1])
    return re.compile(f"{pieces[0]}{middle}.*{pieces[-1]}")


def plain_text(text: str) -> str:
    """The text in lower case without spaces and hyphens, as people leave them out.

    >>> plain_text("KX-01 47")
    'kx0147'
    """
    return text.casefold().translate(_GAPS)


def number_of(text: str) -> int | None:
    """The number that an id of digits is, or None."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < LONGEST_NUMBER else None


def _each_once(manifests: Iterable[Manifest]) -> tuple[Manifest, ...]:
    """Sorted by shipment; two manifests of one name are told apart by all they hold, which is slow and rare."""
    named: dict[tuple[str, str], list[Manifest]] = {}
    for manifest in manifests:
        same = named.setdefault((manifest.shipment, manifest.store), [])
        if manifest not in same:
            same.append(manifest)
    return tuple(
        m for name in sorted(named) for m in (sorted(named[name], key=repr) if named[name][1:] else named[name])
    )


def codes_of(carton: Carton) -> tuple[str, ...]:
    """The codes that a carton's label may carry."""
    return carton.codes


def shape(code: str) -> str:
    """How a code is built: digits as 9, letters as A, all else as it is; codes of one shipper share it.

    >>> shape("KX-0147")
    'AA-9999'
    """
    return "".join("9" if c.isdigit() else "A" if c.isalpha() else c for c in code)


def plain_store(store: str) -> str:
    """A store id without the leading zeros that labels and files treat differently."""
    return store.strip().lstrip("0").casefold()
