"""The replacement request: what a store lacks now, and what was asked for."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import ClassVar

from receiving.messages import Text
from receiving.model.replacement import Delivery, LeftOut, LeftOutReason, ReplacementLine, ReplacementRequest
from receiving.service import RequestChoice, RequestDraft, day_words
from receiving.wording import asked_words, term
from web.pages.trouble import Trouble
from web.pages.words import counted, moment_words


@dataclass(frozen=True)
class LineCard:
    """One thing to send."""

    qty: int
    what: str
    where: Text
    why: str
    carton: str
    shipment: str
    remark: str


@dataclass(frozen=True)
class AskLine:
    """A thing that can be asked for: ``key`` stands for it in the form; ``why_not`` says why it is left out."""

    key: str
    card: LineCard
    asked: bool
    why_not: str
    reason: str


@dataclass(frozen=True)
class WithdrawalCard:
    """An open request that asks for what nobody lacks any more."""

    number: int
    reference: str
    changes: tuple[Text, ...]


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
    lines: tuple[AskLine, ...]
    left_out: tuple[AskLine, ...]
    sentence: str
    saving: str
    previous: str
    withdrawals: tuple[WithdrawalCard, ...]
    deliver_to: str
    contact: str
    phone: str
    needed_by: str
    remarks: str
    trouble: Trouble | None
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
    when: Text
    by: str
    lines: tuple[LineCard, ...]
    left_out: tuple[LineCard, ...]
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
    draft: RequestDraft,
    issued: Iterable[ReplacementRequest],
    *,
    typed: Delivery | None,
    choice: RequestChoice | None,
    trouble: Trouble | None,
    now: datetime,
) -> DraftPage:
    """What a store lacks; delivery and choice are as typed, else the delivery is that of the newest open request."""
    previous = draft.previous
    delivery = typed or (previous.delivery if previous else Delivery(f"Store {draft.store}", ""))
    return DraftPage(
        store=draft.store,
        shipments=draft.shipments,
        lines=tuple(_ask_line(line, choice, "") for line in draft.lines),
        left_out=tuple(_ask_line(each.line, choice, left_out_words(each)) for each in draft.left_out),
        sentence=_sentence(draft.lines),
        saving=_saving(draft.separate),
        previous=previous.reference if previous else "",
        withdrawals=tuple(
            WithdrawalCard(each.request.number, each.request.reference, each.changes) for each in draft.withdrawals
        ),
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
        left_out=tuple(_left_out(each) for each in request.left_out),
        sentence=_sentence(request.lines),
        saving=_saving(request.separate),
        deliver_to=delivery.deliver_to,
        contact=delivery.contact,
        phone=delivery.phone,
        needed_by=delivery.needed_by.isoformat() if delivery.needed_by else "",
        remarks=delivery.remarks,
    )


def left_out_words(left: LeftOut) -> str:
    """Why something that is lacking is not asked for."""
    due = f", due {day_words(left.due)}" if left.due else ""
    match left.reason:
        case LeftOutReason.IN_REQUEST:
            return f"asked for on {left.detail} already"
        case LeftOutReason.CHOSEN:
            return f"left out: {left.detail}" if left.detail else "left out, without a reason"
        case _:
            words = {
                LeftOutReason.SENT_AGAIN: "sent again",
                LeftOutReason.ON_ITS_WAY: "found on its way",
                LeftOutReason.DONE_WITHOUT: "done without",
            }[left.reason]
            return f"{words}{due}{f' ({left.detail})' if left.detail else ''}"


def _ask_line(line: ReplacementLine, choice: RequestChoice | None, why_not: str) -> AskLine:
    """A line as it was chosen, else ticked unless there is a reason to leave it out."""
    asked = line.key in choice.asked if choice else not why_not
    return AskLine(line.key, _line(line), asked, why_not, choice.reasons.get(line.key, "") if choice else "")


def _left_out(left: LeftOut) -> LineCard:
    return replace(_line(left.line), remark=left_out_words(left))


def _line(line: ReplacementLine) -> LineCard:
    where = str(line.address) if line.address else line.section
    return LineCard(
        line.qty, str(asked_words(line)), where, str(term(line.reason)), line.carton, line.shipment, line.remark
    )


def _sentence(lines: tuple[ReplacementLine, ...]) -> str:
    if not lines:
        return "Nothing is lacking that is not settled or asked for already."
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
