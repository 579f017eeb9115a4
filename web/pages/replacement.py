"""The replacement request: what a store lacks now, and what was asked for."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.model.replacement import Delivery, ReplacementLine, ReplacementRequest
from receiving.service import RequestDraft
from web.pages.words import counted, moment_words


@dataclass(frozen=True)
class LineCard:
    """One thing to send."""

    qty: int
    what: str
    where: str
    why: str
    carton: str
    shipment: str
    remark: str


@dataclass(frozen=True)
class IssuedLine:
    """A request that was issued."""

    number: int
    reference: str
    words: str


@dataclass(frozen=True)
class DraftPage:
    """What a store lacks, to be asked for in one request. Typed values come back when something was wrong."""

    template: ClassVar[str] = "request_draft.html"

    store: str
    shipments: tuple[str, ...]
    lines: tuple[LineCard, ...]
    sentence: str
    saving: str
    previous: str
    changes: tuple[str, ...]
    button: str
    deliver_to: str
    contact: str
    phone: str
    needed_by: str
    remarks: str
    trouble: str
    issued: tuple[IssuedLine, ...]

    title: ClassVar[str] = "Replacement request"


@dataclass(frozen=True)
class RequestPage:
    """A request as it was issued."""

    template: ClassVar[str] = "request.html"

    store: str
    number: int
    reference: str
    revision: int
    when: str
    by: str
    lines: tuple[LineCard, ...]
    sentence: str
    saving: str
    deliver_to: str
    contact: str
    phone: str
    needed_by: str
    remarks: str

    @property
    def title(self) -> str:
        """The page's title."""
        return f"Replacement request {self.reference}"


def draft_page(
    draft: RequestDraft, issued: Iterable[ReplacementRequest], *, typed: Delivery | None, trouble: str, now: datetime
) -> DraftPage:
    """What a store lacks; the delivery is as typed, else as in the request that this one revises."""
    previous = draft.previous
    delivery = typed or (previous.delivery if previous else Delivery(f"Store {draft.store}", ""))
    return DraftPage(
        store=draft.store,
        shipments=draft.shipments,
        lines=tuple(map(_line, draft.lines)),
        sentence=_sentence(draft.lines),
        saving=_saving(draft.separate),
        previous=previous.reference if previous else "",
        changes=draft.changes,
        button=f"Issue revision {previous.revision + 1} of {previous.reference}" if previous else "Issue the request",
        deliver_to=delivery.deliver_to,
        contact=delivery.contact,
        phone=delivery.phone,
        needed_by=delivery.needed_by.isoformat() if delivery.needed_by else "",
        remarks=delivery.remarks,
        trouble=trouble,
        issued=tuple(IssuedLine(r.number, r.reference, _issued_words(r, now)) for r in issued),
    )


def request_page(request: ReplacementRequest, now: datetime) -> RequestPage:
    """A request as a page."""
    delivery = request.delivery
    return RequestPage(
        store=request.store,
        number=request.number,
        reference=request.reference,
        revision=request.revision,
        when=moment_words(request.requested_at, now),
        by=request.requested_by,
        lines=tuple(map(_line, request.lines)),
        sentence=_sentence(request.lines),
        saving=_saving(request.separate),
        deliver_to=delivery.deliver_to,
        contact=delivery.contact,
        phone=delivery.phone,
        needed_by=delivery.needed_by.isoformat() if delivery.needed_by else "",
        remarks=delivery.remarks,
    )


def _line(line: ReplacementLine) -> LineCard:
    where = str(line.address) if line.address else line.section
    return LineCard(line.qty, line.words, where, line.reason.words, line.carton, line.shipment, line.remark)


def _sentence(lines: tuple[ReplacementLine, ...]) -> str:
    if not lines:
        return "Nothing is missing or damaged; there is nothing to ask for."
    pieces = counted(sum(line.qty for line in lines), "piece")
    return f"{counted(len(lines), 'line')}, {pieces}."


def _saving(separate: int) -> str:
    if separate < 2:
        return ""
    return f"One request and one delivery charge instead of {separate}, one for each section of each shipment."


def _issued_words(request: ReplacementRequest, now: datetime) -> str:
    revision = f", revision {request.revision}" if request.revision > 1 else ""
    when = moment_words(request.requested_at, now)
    return f"{request.reference}{revision}: {counted(len(request.lines), 'line')}, {when}"
