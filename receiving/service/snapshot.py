"""Where a shipment stands now: recomputed from manifest, reads and notes, and kept until one of them changes."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from receiving.dispatch import kit_of
from receiving.errors import StoreError
from receiving.matching import Reconciler, ToCheck, notes_in_force, things_to_check
from receiving.model import (
    Carton,
    Explanation,
    LabelRead,
    Layout,
    Manifest,
    Note,
    Reconciliation,
    RegionResolved,
    Unreadable,
    listed_forms,
    shown_forms,
)
from receiving.reading import LabelPattern, interpret
from receiving.service.context import Context
from receiving.service.documents import PATTERNS, name_layout, value_in
from receiving.service.planning import PlanInputs
from receiving.staging import bay_by_rule
from receiving.store import PhotoMark, PhotoRecord, PhotoStatus, RevisionRecord, ShipmentRecord, Stamps, Store


class OfManifest:
    """What follows from a manifest alone, worked out when it is first asked for and once for each revision."""

    def __init__(self, manifest: Manifest) -> None:
        self._manifest = manifest

    @cached_property
    def kit(self) -> str:
        """What tells its kit from others."""
        return kit_of(self._manifest)

    @cached_property
    def sections(self) -> tuple[str, ...]:
        """The sections that its cartons name, in file order."""
        return tuple(dict.fromkeys(name for carton in self._manifest for name in carton.sections))


@dataclass(frozen=True)
class Snapshot:
    """One shipment, worked out. ``others`` are the manifests that list a code which was read here.

    ``reconciler`` remembers what each label says by itself, for the next read; ``own`` are the forms of the manifest's
    codes, ``strange`` the codes that were read and are none of them: other manifests may list those; ``of_manifest`` is
    what follows from the manifest alone.
    """

    record: ShipmentRecord
    revision: RevisionRecord
    layout: Layout | None
    reads: tuple[LabelRead, ...]
    notes: tuple[Note, ...]
    photos: tuple[PhotoRecord, ...]
    others: tuple[RevisionRecord, ...]
    reconciler: Reconciler
    reconciliation: Reconciliation
    version: str
    stamps: Stamps
    photo_marks: tuple[PhotoMark, ...]
    patterns: tuple[LabelPattern, ...]
    own: frozenset[str]
    strange: frozenset[str]
    of_manifest: OfManifest

    @property
    def manifest(self) -> Manifest:
        """The current manifest."""
        return self.revision.manifest

    @cached_property
    def plan_inputs(self) -> PlanInputs:
        """What its staging plan follows from."""
        return PlanInputs.of(self.manifest, self.reconciliation, self.layout, self.notes)

    @cached_property
    def explained(self) -> dict[str, Explanation]:
        """What became of each read, by its id."""
        return {each.read_id: each for each in self.reconciliation.explanations}

    @cached_property
    def to_check(self) -> ToCheck:
        """What a person should look at."""
        failed = (photo.photo for photo in self.photos if photo.status is PhotoStatus.FAILED)
        return things_to_check(self.reconciliation, self.reads, self.notes, failed)

    def bay_of(self, carton: Carton) -> str:
        """The bay that this carton goes to by rule, empty where none is known: no answer waits for a plan."""
        return bay_by_rule(carton, self.manifest, self.layout, self.notes)


def snapshot(ctx: Context, store: Store, record: ShipmentRecord) -> Snapshot:
    """Where the shipment stands; worked out again only when something was stored since, and then only from that."""
    last: Snapshot | None = ctx.snapshots.last(record.shipment)
    if last is not None and _still_so(store, record, last):
        kept: Snapshot | None = ctx.snapshots.get(record.shipment, last.version)
        if kept is not None:
            return kept
    with ctx.snapshots.alone(record.shipment):
        last = ctx.snapshots.last(record.shipment)
        if last is None or not _still_so(store, record, last):
            # One of a later version was worked out in a transaction that is not stored yet, and may never be.
            before = last if last is not None and last.record.version <= record.version else None
            last = _work_out(store, record, before)
            last = replace(last, version=_version(store, record, last, last.stamps))
            ctx.snapshots.put(record.shipment, last.version, last)
        return last


def _still_so(store: Store, record: ShipmentRecord, found: Snapshot) -> bool:
    """True while nothing was stored since that this may follow from; asks for little where the shipment moved on."""
    if found.record.version != record.version:
        return False
    return found.version == _version(store, record, found, store.stamps(record.shipment, record.store))


def _version(store: Store, record: ShipmentRecord, found: Snapshot, stamps: Stamps) -> str:
    """Text that changes whenever anything is stored that this shipment's page may show.

    Manifests of other shipments count only where something was read that is not on its own.
    """
    same = found.record.version == record.version and found.stamps.patterns == stamps.patterns
    others = "" if same and not found.strange else f".{store.stamp()[1]}"
    return (
        f"{record.version}.{store.store_version(record.store)}.{stamps.layout}.{stamps.patterns}."
        f"{stamps.requests}.{stamps.parts}{others}"
    )


def _while(before: Snapshot | None, holds: Callable[[Snapshot], bool]) -> Snapshot | None:
    """The snapshot before while this holds of it, so that what follows from it is taken over; else None."""
    return before if before is not None and holds(before) else None


def _work_out(store: Store, record: ShipmentRecord, before: Snapshot | None) -> Snapshot:
    """The shipment as stored, with all that is still true of ``before`` taken from it."""
    stamps = store.stamps(record.shipment, record.store)
    before = _while(before, lambda was: was.stamps.erasures == stamps.erasures)
    same = _while(before, lambda was: was.record.revision == record.revision)
    same_layout = _while(before, lambda was: (was.record.store, was.stamps.layout) == (record.store, stamps.layout))
    same_patterns = _while(before, lambda was: was.stamps.patterns == stamps.patterns)
    same_notes = _while(before, lambda was: was.stamps.note == stamps.note)

    revision = same.revision if same else store.revision(record.shipment)
    layout = same_layout.layout if same_layout else value_in(store, name_layout(record.store))
    patterns = same_patterns.patterns if same_patterns else value_in(store, PATTERNS)
    notes = same_notes.notes if same_notes else store.notes(record.shipment)

    # What a read claims follows from the patterns; which codes are strange, from the manifest and the claims.
    fresh = _fresh_reads(store, record.shipment, stamps, patterns, same_patterns)
    reads = (*(same_patterns.reads if same_patterns else ()), *fresh)
    own = same.own if same else _own_codes(revision.manifest)
    strange = same.strange | _strange(own, fresh) if same and same_patterns else _strange(own, reads)

    marks = store.photo_marks(record.shipment)
    same_photos = _while(before, lambda was: was.photo_marks == marks)
    photos = same_photos.photos if same_photos else _photos(store, record.shipment, marks, before)

    others = _others(store, revision.manifest, strange, before)
    same_others = _while(same, lambda was: was.others == others)
    manifests = [other.manifest for other in others]
    reconciler = same_others.reconciler if same_others else Reconciler(revision.manifest, manifests)
    return Snapshot(
        record,
        revision,
        layout,
        reads,
        notes,
        photos,
        others,
        reconciler,
        reconciler.state(reads, notes, _unread(photos, find_resolved_regions(notes))),
        "",
        stamps,
        photo_marks=marks,
        patterns=patterns,
        own=own,
        strange=strange,
        of_manifest=same.of_manifest if same else OfManifest(revision.manifest),
    )


def _fresh_reads(
    store: Store, shipment: str, stamps: Stamps, patterns: tuple[LabelPattern, ...], known: Snapshot | None
) -> tuple[LabelRead, ...]:
    """The reads that are not ``known``, interpreted; all of them where none is, by the same patterns."""
    if known is not None and known.stamps.read == stamps.read:
        return ()
    # Up to the stamp and no further: a read that is stored meanwhile comes with the next stamp, and once.
    fresh = store.reads_between(shipment, known.stamps.read if known else 0, stamps.read)
    return tuple(interpret(raw, patterns) for raw in fresh)


def _photos(
    store: Store, shipment: str, marks: tuple[PhotoMark, ...], before: Snapshot | None
) -> tuple[PhotoRecord, ...]:
    """The photos; the reading of one whose mark is the same is not read from the store again."""
    if before is None:
        return store.photos(shipment)
    had, now = {photo.photo: photo for photo in before.photos}, set(marks)
    same = {mark[0]: had[mark[0]] for mark in before.photo_marks if mark in now and mark[0] in had}
    fresh = {photo.photo: photo for photo in store.photos(shipment, only=[m[0] for m in marks if m[0] not in same])}
    known = same | fresh
    return tuple(known[mark[0]] for mark in marks if mark[0] in known)


def _others(
    store: Store, manifest: Manifest, strange: frozenset[str], before: Snapshot | None
) -> tuple[RevisionRecord, ...]:
    """The current manifests of other shipments that carry a code which was read here."""
    if not strange:
        return ()
    known = {(other.manifest.shipment, other.revision): other for other in before.others} if before else {}
    found = (name for name in store.shipments_with_codes(strange) if name != manifest.shipment)
    return tuple(_readable_revisions(store, found, known))


def _own_codes(manifest: Manifest) -> frozenset[str]:
    """Every form in which a code of this manifest may be listed elsewhere."""
    return frozenset(form for carton in manifest for code in carton.codes for form in listed_forms(code))


def _strange(own: frozenset[str], reads: Iterable[LabelRead]) -> frozenset[str]:
    """The codes that these reads show and that are none of our own."""
    reads = tuple(reads)
    codes = {str(read.claim.sscc) for read in reads if read.claim.sscc}
    shown = {code for read in reads for code in (read.claim.barcode, read.claim.faulty_sscc, *read.claim.numbers)}
    codes |= {form for code in shown for form in shown_forms(code)}
    return frozenset(codes - own - {""})


def _readable_revisions(
    store: Store, shipments: Iterable[str], known: dict[tuple[str, int], RevisionRecord]
) -> Iterator[RevisionRecord]:
    for shipment in shipments:
        try:
            record = store.shipment(shipment)
            yield known.get((shipment, record.revision)) or store.revision(shipment)
        except StoreError as fault:
            store.set_aside("shipments", shipment, shipment, fault)


def find_resolved_regions(notes: Iterable[Note]) -> dict[tuple[str, int], RegionResolved]:
    """The unread regions that a person has settled, by photo and the region's number from 1."""
    return {(note.photo, note.region): note for note in notes_in_force(notes) if isinstance(note, RegionResolved)}


def _unread(
    photos: tuple[PhotoRecord, ...], resolved: Mapping[tuple[str, int], RegionResolved]
) -> tuple[Unreadable, ...]:
    return tuple(
        Unreadable(photo.photo, region.quad_px, region.advice)
        for photo in photos
        if photo.reading
        for number, region in enumerate(photo.reading.unread, 1)
        if (photo.photo, number) not in resolved
    )
