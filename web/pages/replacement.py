"""The replacement request: what a store lacks now, and what was asked for."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, message, plural
from receiving.model import FollowUp
from receiving.model.replacement import Delivery, LeftOut, LeftOutReason, ReplacementLine, ReplacementRequest
from receiving.service import RequestChoice, RequestDraft, day_words
from receiving.wording import address_words, asked_words, stored_words, term
from web.pages.problem import Trouble
from web.pages.words import moment_words


@dataclass(frozen=True)
class LineCard:
    """One thing to send."""

    qty: int
    what: Text
    where: Text
    why: Text
    carton: str
    shipment: str
    remark: Text


@dataclass(frozen=True)
class AskLine:
    """A thing that can be asked for: ``key`` stands for it in the form; ``why_not`` says why it is left out."""

    key: str
    card: LineCard
    asked: bool
    why_not: Text
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
    words: Text


@dataclass(frozen=True)
class ReplacementDraftPage:
    """What a store lacks, to be asked for in one request. Typed values come back when something was wrong."""

    template: ClassVar[str] = "replacement_draft.html"

    store: str
    shipments: tuple[str, ...]
    lines: tuple[AskLine, ...]
    left_out: tuple[AskLine, ...]
    sentence: Text
    saving: Text
    previous: str
    withdrawals: tuple[WithdrawalCard, ...]
    deliver_to: str
    contact: str
    phone: str
    needed_by: str
    remarks: str
    trouble: Trouble | None
    issued: tuple[IssuedLine, ...]

    title: ClassVar[Text] = message("Replacement request")


@dataclass(frozen=True)
class ReplacementIssuedPage:
    """A request as it was issued."""

    template: ClassVar[str] = "replacement_issued.html"

    store: str
    number: int
    reference: str
    revision: int
    when: Text
    by: str
    lines: tuple[LineCard, ...]
    left_out: tuple[LineCard, ...]
    sentence: Text
    saving: Text
    deliver_to: str
    contact: str
    phone: str
    needed_by: str
    remarks: str

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Replacement request {reference}", reference=self.reference)


def draft_page(
    draft: RequestDraft,
    *,
    typed: Delivery | None,
    choice: RequestChoice | None,
    trouble: Trouble | None,
    now: datetime,
) -> ReplacementDraftPage:
    """What a store lacks; delivery and choice are as typed, else the delivery is that of the newest open request."""
    previous = draft.previous
    delivery = typed or (previous.delivery if previous else Delivery(f"Store {draft.store}", ""))
    return ReplacementDraftPage(
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
        issued=tuple(IssuedLine(r.number, r.reference, issued_words(r, now)) for r in draft.issued),
    )


def request_page(request: ReplacementRequest, now: datetime) -> ReplacementIssuedPage:
    """A request as a page."""
    delivery = request.delivery
    return ReplacementIssuedPage(
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


def left_out_words(left: LeftOut) -> Text:
    """Why something that is lacking is not asked for."""
    match left.reason:
        case LeftOutReason.IN_REQUEST:
            return message("asked for on {request} already", request=left.detail)
        case LeftOutReason.CHOSEN if left.detail:
            return message("left out: {reason}", reason=left.detail)
        case LeftOutReason.CHOSEN:
            return message("left out, without a reason")
    stated = term(_FOLLOWED[left.reason])
    if left.due:
        stated = message("{step}, due {day}", step=stated, day=day_words(left.due))
    return message("{statement} ({remark})", statement=stated, remark=left.detail) if left.detail else stated


_FOLLOWED = {
    LeftOutReason.SENT_AGAIN: FollowUp.SENT_AGAIN,
    LeftOutReason.ON_ITS_WAY: FollowUp.ON_ITS_WAY,
    LeftOutReason.DONE_WITHOUT: FollowUp.DONE_WITHOUT,
}


def _ask_line(line: ReplacementLine, choice: RequestChoice | None, why_not: Text) -> AskLine:
    """A line as it was chosen, else ticked unless there is a reason to leave it out."""
    asked = line.key in choice.asked if choice else not why_not
    return AskLine(line.key, _line(line), asked, why_not, choice.reasons.get(line.key, "") if choice else "")


def _left_out(left: LeftOut) -> LineCard:
    return replace(_line(left.line), remark=left_out_words(left))


def _line(line: ReplacementLine) -> LineCard:
    where = address_words(line.address) if line.address else line.section
    return LineCard(
        line.qty, asked_words(line), where, term(line.reason), line.carton, line.shipment, stored_words(line.remark)
    )


def _sentence(lines: tuple[ReplacementLine, ...]) -> Message:
    if not lines:
        return message("Nothing is lacking that is not resolved or asked for already.")
    pieces = sum(line.qty for line in lines)
    return message(
        "{lines}, {pieces}.", lines=_lines(len(lines)), pieces=plural(pieces, "{number} piece", "{number} pieces")
    )


def _lines(number: int) -> Message:
    return plural(number, "{number} line", "{number} lines")


def _saving(separate: int) -> Text:
    if separate < 2:
        return ""
    return message(
        "One request and one delivery charge instead of {number}, one for each section of each shipment.",
        number=separate,
    )


def issued_words(request: ReplacementRequest, now: datetime) -> Message:
    """A request in a line: its reference, how many lines it has, and when it was made."""
    values = {
        "request": request.reference,
        "lines": _lines(len(request.lines)),
        "moment": moment_words(request.requested_at, now),
    }
    if request.revision > 1:
        return message("{request}, revision {revision}: {lines}, {moment}", revision=request.revision, **values)
    return message("{request}: {lines}, {moment}", **values)
