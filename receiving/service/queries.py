"""What a person looks at: the list of shipments, one shipment, the overview, and what a phone needs without signal."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from receiving import dispatch
from receiving.dispatch import DispatchRow, Selection, ShipmentRow
from receiving.matching import ToCheck, certain_names, with_owners
from receiving.model import (
    EVERYTHING,
    CartonFinding,
    DataScope,
    LabelRead,
    Layout,
    Manifest,
    Note,
    RawRead,
    Receipt,
    Reconciliation,
    Source,
    StagingPlan,
)
from receiving.reading import interpret
from receiving.service.context import Context
from receiving.service.dispatch_words import advice_words
from receiving.service.documents import PATTERNS, value_in
from receiving.service.ingest import PhotoRow, ScanAnswer, answer_of, photo_row
from receiving.service.list_pages import all_rows, stream_rows
from receiving.service.listing import row
from receiving.service.planning import Planned
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stores import StoreDays
from receiving.sheets import csv_parts, workbook
from receiving.store import RevisionRecord, Store

_COLUMNS = (
    "shipment",
    "store",
    "visit_date",
    "days_to_visit",
    "expected",
    "here",
    "inside",
    "missing",
    "settled",
    "extra",
    "questions",
    "to_check",
    "damaged",
    "last_read_at",
    "confirmed",
    "held",
    "advice",
)


@dataclass(frozen=True)
class ShipmentView:
    """All of one shipment, as of ``version``."""

    manifest: Manifest
    revision: int
    layout: Layout | None
    reconciliation: Reconciliation
    reads: tuple[LabelRead, ...]
    notes: tuple[Note, ...]
    photos: tuple[PhotoRow, ...]
    receipts: tuple[Receipt, ...]
    glance: ShipmentRow
    to_check: ToCheck
    version: str
    found: Snapshot = field(repr=False, compare=False)
    ctx: Context = field(repr=False, compare=False)

    @cached_property
    def revisions(self) -> tuple[RevisionRecord, ...]:
        """All its revisions, oldest first, each with what it changed in words."""
        with self.ctx.store() as store:
            return store.revisions(self.manifest.shipment)

    @cached_property
    def row(self) -> ShipmentRow:
        """The shipment as a row of a list; ``glance`` is the same without what waits for each missing carton."""
        with self.ctx.store() as store:
            return row(self.ctx, store, self.found)

    @cached_property
    def planned(self) -> Planned:
        """The staging plan as far as it is; one that nobody looked at yet is begun."""
        return self.ctx.planner.look(self.found.plan_inputs)

    @property
    def plan(self) -> StagingPlan:
        """The staging plan; while it is in work, what is known without it."""
        return self.planned.plan

    def answer_of(self, read_id: str) -> ScanAnswer | None:
        """What this read turned out to be; None where there is no such read."""
        return answer_of(self.found, read_id)


def list_shipments(ctx: Context, scope: DataScope = EVERYTHING, *, whole: bool = True) -> tuple[ShipmentRow, ...]:
    """Every shipment with its counts, nearest visit first; only those within ``scope``.

    Raises NotYet while many are being worked out, unless it need not be the ``whole``.
    """
    return tuple(sorted(all_rows(ctx, scope, whole=whole), key=_by_plan))


def _by_plan(row: ShipmentRow) -> tuple[bool, date, str]:
    return row.planned_visit is None, row.planned_visit or date.max, row.shipment


def get_shipment(ctx: Context, shipment_id: str) -> ShipmentView:
    """One shipment in full. Raises NotFound."""
    with ctx.moment() as store:
        found, pruned = snapshot(ctx, store, store.shipment(shipment_id)), store.pruned_photos_of(shipment_id)
        return ShipmentView(
            manifest=found.manifest,
            revision=found.revision.revision,
            layout=found.layout,
            reconciliation=_with_owners(ctx, store, found),
            reads=found.reads,
            notes=found.notes,
            photos=tuple(photo_row(record, pruned.get(record.photo)) for record in found.photos),
            receipts=store.receipts(shipment_id),
            glance=row(ctx, store, found, weighed=False),
            to_check=found.to_check,
            version=_with_mark(ctx, shipment_id, found.version),
            found=found,
            ctx=ctx,
        )


def _with_owners(ctx: Context, store: Store, found: Snapshot) -> Reconciliation:
    """The reconciliation whose overs say whether their own shipment is short of them."""
    owners = {over.shipment for over in found.reconciliation.over if over.shipment}
    others = (snapshot(ctx, store, store.shipment(owner)).reconciliation for owner in sorted(owners))
    return with_owners(found.reconciliation, others)


def get_version(ctx: Context, shipment_id: str) -> str:
    """Text that changes with everything that the shipment's page may show; cheap to ask for. Raises NotFound."""
    with ctx.moment() as store:
        return _with_mark(ctx, shipment_id, snapshot(ctx, store, store.shipment(shipment_id)).version)


def _with_mark(ctx: Context, shipment_id: str, version: str) -> str:
    """The version of what is shown: a plan that is finished changes the page as well."""
    return f"{version}.{ctx.planner.mark(shipment_id)}"


def get_overview(ctx: Context, scope: DataScope = EVERYTHING) -> tuple[DispatchRow, ...]:
    """Every shipment (within ``scope``) with what to do now on the day of its store, the most pressing first."""
    return dispatch.for_today(all_rows(ctx, scope), StoreDays(ctx.now()))


def decide_shipment(ctx: Context, shipment_id: str) -> DispatchRow:
    """One shipment with what the coordinator should do about it now. Raises NotFound."""
    with ctx.moment():
        row = get_shipment(ctx, shipment_id).row
    return dispatch.decide(row, StoreDays(ctx.now())(row.terms))


def make_overview_csv(ctx: Context, wanted: Selection | None = None, scope: DataScope = EVERYTHING) -> str:
    """The rows that are wanted, all of them without ``wanted``, as CSV with a header row."""
    return "".join(make_overview_csv_parts(ctx, wanted, scope))


def make_overview_csv_parts(
    ctx: Context, wanted: Selection | None = None, scope: DataScope = EVERYTHING
) -> Iterator[str]:
    """The CSV of `make_overview_csv` bit by bit, in the order of the list; raises NotYet before its first part.

    Each shipment that is wanted now stands in it once, as it is when its part is asked for.
    """
    return csv_parts(_COLUMNS, map(_cells, stream_rows(ctx, wanted or Selection(), scope)))


def make_overview_xlsx(ctx: Context, wanted: Selection, scope: DataScope = EVERYTHING) -> bytes:
    """The rows that are wanted as a workbook of one sheet."""
    return workbook({"overview": (_COLUMNS, map(_cells, stream_rows(ctx, wanted, scope)))})


def _cells(decided: DispatchRow) -> tuple[object, ...]:
    row = decided.row
    return (
        row.shipment,
        row.store,
        row.visit_date.isoformat() if row.visit_date else "",
        "" if decided.days_to_visit is None else decided.days_to_visit,
        row.expected,
        row.here,
        row.inside,
        row.missing,
        sum(each.resolved for each in decided.outlooks),
        row.extra,
        row.questions,
        row.to_check,
        row.damaged,
        row.last_read_at.isoformat() if row.last_read_at else "",
        "yes" if row.confirmed else "no",
        "yes" if row.held else "no",
        str(advice_words(decided)),
    )


# What a phone needs to answer a scan by itself while there is no signal: what surely names one carton.


@dataclass(frozen=True)
class PhoneSheet:
    """One shipment as of ``version``; ``codes`` and ``typed`` as `CertainNames` has them.

    ``bays`` says by carton the bay that the answer to its scan names.
    """

    shipment: str
    store: str
    version: str
    codes: Mapping[str, str]
    typed: Mapping[str, str]
    cartons: tuple[CartonFinding, ...]
    bays: Mapping[str, str]


def get_phone_sheet(ctx: Context, shipment: str) -> PhoneSheet:
    """The sheet of a shipment. Raises NotFound.

    Codes are in all forms of `listed_forms`, so that a number is found however a label writes it. Whatever else a label
    may say is left to the service: a phone never guesses.
    """
    with ctx.moment() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
        patterns = value_in(store, PATTERNS)
    now = ctx.now()

    def typed(text: str) -> LabelRead:
        return interpret(RawRead("typed", now, Source.TYPED, text), patterns)

    names = certain_names(found.reconciler.catalogue, typed)
    cartons = found.reconciliation.cartons
    bays = {each.carton.carton: found.bay_of(each.carton) for each in cartons}
    return PhoneSheet(shipment, found.manifest.store, found.version, names.codes, names.typed, cartons, bays)
