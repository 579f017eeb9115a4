"""What a new revision of a manifest changed, in plain sentences."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from receiving.model import Carton, ContentLine, Manifest, both_lengths, both_weights


class What(StrEnum):
    """The kind of a change."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


@dataclass(frozen=True)
class ManifestChange:
    """One change between two revisions; ``carton`` is empty where the shipment itself changed."""

    carton: str
    what: What
    words: str


def manifest_changes(old: Manifest, new: Manifest) -> tuple[ManifestChange, ...]:
    """What ``new`` changed: the shipment first, then cartons in the order of ``new``, then the removed ones."""
    return (*_shipment(old, new), *_cartons(old, new))


def _shipment(old: Manifest, new: Manifest) -> Iterator[ManifestChange]:
    pairs = (
        ("store is", old.store, new.store),
        ("visit date is", old.dispatch_date or "", new.dispatch_date or ""),
        ("references are", _references(old), _references(new)),
    )
    for name, before, after in pairs:
        if before != after:
            was = f"; before: {before}" if before else ""
            yield ManifestChange("", What.CHANGED, f"The shipment's {name} now {after or 'not given'}{was}.")


def _cartons(old: Manifest, new: Manifest) -> Iterator[ManifestChange]:
    before = {carton.carton: carton for carton in old}
    after = {carton.carton: carton for carton in new}
    renamed = _renamed(before, after)
    for name, carton in after.items():
        earlier = before.get(name) or before.get(renamed.get(name, ""))
        if earlier is None:
            yield ManifestChange(name, What.ADDED, f"Carton {name} was added: {describe(carton)}.")
        elif earlier != carton:
            yield ManifestChange(name, What.CHANGED, f"Carton {name} changed: {'; '.join(_fields(earlier, carton))}.")
    for name, carton in before.items():
        if name not in after and name not in renamed.values():
            yield ManifestChange(name, What.REMOVED, f"Carton {name} was removed: {describe(carton)}.")


def _renamed(before: dict[str, Carton], after: dict[str, Carton]) -> dict[str, str]:
    """New carton id -> old one, for cartons that kept their SSCC and lost their number."""
    by_sscc = {c.sscc: c.carton for c in before.values() if c.sscc and c.carton not in after}
    gained = (c for c in after.values() if c.sscc and c.carton not in before)
    return {c.carton: by_sscc[c.sscc] for c in gained if c.sscc in by_sscc}


def describe(carton: Carton) -> str:
    """A carton in a few words: ``tray for Harbor, column 3, row 2``."""
    places = [str(address) for address in carton.addresses] or list(carton.sections)
    shown = "; ".join(places[:3]) + (f" and {len(places) - 3} more" if len(places) > 3 else "")
    named = f"{carton.kind.printed} for {shown}" if shown else carton.kind.printed
    return f"{named}, open first" if carton.open_first else named


_FIELDS: tuple[tuple[str, str, Callable[[Any], str]], ...] = (
    ("sscc", "SSCC", str),
    ("barcode", "barcode", str),
    ("numbers", "other numbers", ", ".join),
    ("outer", "outer box", str),
    ("weight_kg", "weight", both_weights),
    ("length_cm", "length", both_lengths),
    ("width_cm", "width", both_lengths),
    ("height_cm", "height", both_lengths),
)


def _fields(old: Carton, new: Carton) -> Iterator[str]:
    if old.carton != new.carton:
        yield f"it was carton {old.carton}"
    if old.kind != new.kind:
        yield f"{old.kind.printed} is now {new.kind.printed}"
    if old.open_first != new.open_first:
        yield "open first now" if new.open_first else "no longer open first"
    for name, words, shown in _FIELDS:
        before, after = (shown(value) if (value := getattr(carton, name)) else "" for carton in (old, new))
        if before != after:
            yield f"{words}{_from_to(before, after)}"
    yield from _contents(old.contents, new.contents)


def _contents(old: tuple[ContentLine, ...], new: tuple[ContentLine, ...]) -> Iterator[str]:
    gone, come = list(old), []
    for line in new:
        if line in gone:
            gone.remove(line)
        else:
            come.append(line)
    if not gone and not come and old != new:
        yield "the order of its contents"
    yield from (f"no longer holds {_line(line)}" for line in gone)
    yield from (f"now holds {_line(line)}" for line in come)


def _line(line: ContentLine) -> str:
    counted = f"{line.qty} {line.unit}".strip() if line.qty else ""
    named = line.item or line.description
    what = f"{counted} of {named}" if counted and named else counted or named or "something"
    place = str(line.address) if line.address else line.section
    return f"{what} for {place}" if place else what


def _references(manifest: Manifest) -> str:
    return ", ".join(f"{name} {value}" for name, value in manifest.references)


def _from_to(before: str, after: str) -> str:
    if not before:
        return f" is now {after}"
    if not after:
        return f" {before} is no longer given"
    return f" from {before} to {after}"
