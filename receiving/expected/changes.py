"""What a new revision of a manifest changed."""

from collections.abc import Iterator

from receiving.model import Carton, Manifest, ManifestChange, What


def manifest_changes(old: Manifest, new: Manifest) -> tuple[ManifestChange, ...]:
    """What ``new`` changed: the shipment first, then cartons in the order of ``new``, then the removed ones."""
    return (*_shipment(old, new), *_cartons(old, new))


def _shipment(old: Manifest, new: Manifest) -> Iterator[ManifestChange]:
    if old.store != new.store:
        yield ManifestChange("", What.STORE, old.store, new.store)
    if old.dispatch_date != new.dispatch_date:
        yield ManifestChange("", What.VISIT, old.dispatch_date, new.dispatch_date)
    if old.references != new.references:
        yield ManifestChange("", What.REFERENCES, old.references or None, new.references or None)


def _cartons(old: Manifest, new: Manifest) -> Iterator[ManifestChange]:
    before = {carton.carton: carton for carton in old}
    after = {carton.carton: carton for carton in new}
    renamed = _renamed(before, after)
    former = set(renamed.values())
    for name, carton in after.items():
        earlier = before.get(name) or before.get(renamed.get(name, ""))
        if earlier is None:
            yield ManifestChange(name, What.ADDED, None, carton)
        elif earlier != carton:
            yield ManifestChange(name, What.CHANGED, earlier, carton)
    for name, carton in before.items():
        if name not in after and name not in former:
            yield ManifestChange(name, What.REMOVED, carton, None)


def _renamed(before: dict[str, Carton], after: dict[str, Carton]) -> dict[str, str]:
    """New carton id -> old one, for cartons that kept their SSCC and lost their number."""
    by_sscc = {c.sscc: c.carton for c in before.values() if c.sscc and c.carton not in after}
    gained = (c for c in after.values() if c.sscc and c.carton not in before)
    return {c.carton: by_sscc[c.sscc] for c in gained if c.sscc in by_sscc}
