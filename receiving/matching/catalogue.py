"""What is known of cartons: the manifest in question, and every other open shipment."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from receiving.matching.sizes import Sizes
from receiving.model import Address, Carton, CartonKind, Manifest

SHORTEST_WORD = 4
GTIN_LENGTHS = (8, 12, 13, 14)
SHIPMENT_SSCC = re.compile(r"00(\d{18})")


@dataclass(frozen=True)
class Listed:
    """A carton on a manifest other than the one in question."""

    manifest: Manifest
    carton: Carton

    @property
    def words(self) -> str:
        """Whose carton it is, as a person says it."""
        return f"store {self.manifest.store}, shipment {self.manifest.shipment}, carton {self.carton.carton}"


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
                for code in dict.fromkeys(map(compared, codes_of(carton))):
                    found.setdefault(code, []).append(Listed(manifest, carton))
        return cls(
            manifests,
            {code: tuple(listed) for code, listed in found.items()},
            {m.shipment.casefold(): m for m in reversed(manifests)},
            frozenset(plain_store(m.store) for m in manifests),
        )

    def holding(self, code: str, this: Manifest) -> tuple[Listed, ...]:
        """The cartons of other shipments that carry this code."""
        return tuple(hit for hit in self.by_code.get(compared(code), ()) if hit.manifest.shipment != this.shipment)

    def at(self, address: Address, this: Manifest) -> tuple[Listed, ...]:
        """The cartons of other shipments at this address."""
        return tuple(
            Listed(manifest, carton)
            for manifest in self.manifests
            if manifest.shipment != this.shipment
            for carton in manifest
            if any(address.fits(own) for own in carton.addresses)
        )


class Catalogue:
    """One manifest's cartons by SSCC, by barcode, by carton id and by address."""

    def __init__(self, manifest: Manifest, elsewhere: Elsewhere) -> None:
        self.manifest = manifest
        self.elsewhere = elsewhere
        self.by_id = {carton.carton: carton for carton in manifest}
        self.by_code: dict[str, tuple[str, ...]] = {}
        for carton in manifest:
            for code in codes_of(carton):
                key = compared(code)
                self.by_code[key] = (*self.by_code[key], carton.carton) if key in self.by_code else (carton.carton,)

    @cached_property
    def sizes(self) -> Sizes:
        """How large its cartons are beside each other."""
        return Sizes.of(self.manifest)

    @cached_property
    def codes(self) -> dict[str, tuple[str, ...]]:
        """The ids of the cartons by code, as it is listed."""
        found: dict[str, tuple[str, ...]] = {}
        for carton in self.manifest:
            for code in codes_of(carton):
                found[code] = (*found.get(code, ()), carton.carton)
        return found

    @cached_property
    def shapes(self) -> frozenset[str]:
        """How the barcodes of this manifest are built."""
        return frozenset(shape(carton.barcode) for carton in self.manifest if carton.barcode)

    @cached_property
    def by_cell(self) -> dict[tuple[int, int], list[tuple[Address, str]]]:
        """The cartons by column and row, each with the address that is there."""
        found: dict[tuple[int, int], list[tuple[Address, str]]] = {}
        for carton in self.manifest:
            for line in carton.contents:
                at = line.address
                if at is not None:
                    found.setdefault((at.column, at.row), []).append((at, carton.carton))
        return found

    def with_code(self, code: str) -> tuple[str, ...]:
        """The ids of the cartons with this SSCC or barcode, in manifest order."""
        return self.by_code.get(compared(code), ())

    def at(self, address: Address) -> tuple[str, ...]:
        """The ids of the cartons with a content line at this address, in manifest order."""
        cell = self.by_cell.get((address.column, address.row), ())
        return tuple(dict.fromkeys(carton for own, carton in cell if address.fits(own)))

    @cached_property
    def outer_count(self) -> int:
        """How many of the cartons are outer boxes."""
        return sum(carton.kind is CartonKind.OUTER for carton in self.manifest)

    @cached_property
    def items(self) -> dict[str, tuple[str, ...]]:
        """The cartons of each item number that is long enough to be told from other print, folded."""
        found: dict[str, tuple[str, ...]] = {}
        for carton in self.manifest:
            for line in carton.contents:
                if len(line.item) >= SHORTEST_WORD:
                    word = line.item.casefold()
                    found[word] = tuple(dict.fromkeys((*found.get(word, ()), carton.carton)))
        return found

    def with_raw(self, raw: str) -> tuple[str, ...]:
        """The ids of the cartons whose label may carry this raw text: the barcode as is, or AI 00 and the SSCC."""
        sscc = SHIPMENT_SSCC.match(raw)
        return self.with_code(raw) or (self.with_code(sscc[1]) if sscc else ())


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


def compared(code: str) -> str:
    """The code as it is compared: a number of GTIN length with the zeros that make it 14 digits, all else as it is.

    A reader gives a UPC-A of 12 digits as 13 or 14. Source: GS1 General Specifications, AI (01), which carries GTIN-8,
    -12 and -13 in 14 digits, zeros before them (from memory).

    >>> compared("036000291452"), compared("KX-1")
    ('00036000291452', 'KX-1')
    """
    return code.zfill(14) if len(code) in GTIN_LENGTHS and code.isascii() and code.isdigit() else code


def shape(code: str) -> str:
    """How a code is built: digits as 9, letters as A, all else as it is; codes of one shipper share it.

    >>> shape("KX-0147")
    'AA-9999'
    """
    return "".join("9" if c.isdigit() else "A" if c.isalpha() else c for c in code)


def plain_store(store: str) -> str:
    """A store id without the leading zeros that labels and files treat differently."""
    return store.strip().lstrip("0").casefold()
