"""The receipt: what the store manager is shown, in plain words, and confirms."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping

from receiving.messages import Message, Text, joined, message, opening, plural
from receiving.model import (
    Carton,
    CartonFinding,
    CartonState,
    DamageNoted,
    Manifest,
    Over,
    Reconciliation,
    ShortDeclaration,
    ShownLine,
    ShownReceipt,
)
from receiving.model.contents import CountedLine
from receiving.wording import address_words, finding_words, part_words, term, to_stored, whose_words, words_of


def show_receipt(
    reconciliation: Reconciliation,
    manifest: Manifest,
    revision: int,
    declared: Mapping[str, ShortDeclaration] | None = None,
    *,
    counted: Iterable[CountedLine] = (),
) -> ShownReceipt:
    """What a store manager has to look at: counts, every exception, then every carton that is here.

    ``declared`` says by carton that a missing one is declared short, ``counted`` are the parts of every content line:
    cartons that hold fewer or more pieces than the manifest says are exceptions too. The digest covers every word
    shown, so that a confirmation can prove what it confirmed; it covers them in English, so that it is the same in
    every language.
    """
    differing = tuple(line for line in counted if line.here != line.wanted)
    lines = (*_exceptions(reconciliation, declared or {}, differing), *_here(reconciliation))
    counts = {
        "shipment": manifest.shipment,
        "store": manifest.store,
        "revision": revision,
        "expected": reconciliation.expected,
        "received": len(reconciliation.received),
        "short": len(reconciliation.short),
        "extra": len(reconciliation.extra),
        "questions": len(reconciliation.questions),
    }
    shown = json.dumps([counts, [_digested(line) for line in lines]], sort_keys=True)
    return ShownReceipt(
        shipment=manifest.shipment,
        store=manifest.store,
        revision=revision,
        expected=reconciliation.expected,
        received=len(reconciliation.received),
        short=len(reconciliation.short),
        extra=len(reconciliation.extra),
        questions=len(reconciliation.questions),
        lines=lines,
        digest=hashlib.sha256(shown.encode()).hexdigest(),
    )


def _digested(line: ShownLine) -> list[object]:
    stated = line.declared
    declared = [stated.by, stated.at.isoformat(), stated.reason, list(stated.searched)] if stated else []
    return [
        line.carton,
        line.state,
        line.words,
        *([list(line.photos)] if line.photos else []),
        *([declared] if declared else []),
    ]


def declaration_words(declared: ShortDeclaration, when: object) -> Text:
    """That a carton is declared short as sentences; ``when`` is its time, or that as the reader writes times."""
    values = {"who": declared.by, "when": when, "why": declared.reason.rstrip(".")}
    match bool(declared.by), bool(declared.reason):
        case True, True:
            stated = message("Declared short by {who}, {when}: {why}.", **values)
        case True, False:
            stated = message("Declared short by {who}, {when}.", **values)
        case False, True:
            stated = message("Declared short {when}: {why}.", **values)
        case _:
            stated = message("Declared short {when}.", **values)
    if not declared.searched:
        return joined(stated, message("Not looked for."))
    places = joined(*map(term, declared.searched), separator=", ")
    return joined(stated, message("Looked for in: {places}.", places=places))


STORE_MANAGER = "Store manager"
"""The role in which an account of a store manager confirms, as it is stored."""


def role_words(role: str) -> Text:
    """The role of who confirmed: of an account in the reader's language, else as it was typed."""
    return message("Store manager") if role == STORE_MANAGER else role


def _line(
    carton: str,
    state: str,
    words: Text,
    *,
    photos: tuple[str, ...] = (),
    declared: ShortDeclaration | None = None,
) -> ShownLine:
    return ShownLine(carton, state, str(words), photos, declared, to_stored(words))


def _exceptions(
    reconciliation: Reconciliation, declared: Mapping[str, ShortDeclaration], differing: tuple[CountedLine, ...]
) -> tuple[ShownLine, ...]:
    missing = [
        _line(
            f.carton.carton,
            f.state.value,
            message("{carton}: {state}. {why}", carton=_name(f), state=term(f.state), why=finding_words(f)),
            declared=declared.get(f.carton.carton) if f.state is CartonState.SHORT else None,
        )
        for f in reconciliation.cartons
        if f.state is not CartonState.RECEIVED
    ]
    damaged = [
        _line(
            f.carton.carton,
            "damaged",
            message("{carton}: damaged. {damage}", carton=_name(f), damage=joined(*map(_damage, f.damage))),
            photos=tuple(dict.fromkeys(note.photo for note in f.damage if note.photo)),
        )
        for f in reconciliation.cartons
        if f.damage
    ]
    counted = [
        _line(
            f.carton.carton,
            "counted",
            message("{carton}: the contents differ. {counts}", carton=_name(f), counts=joined(*counts)),
        )
        for f in reconciliation.received
        if (counts := tuple(_counts(f.carton, differing)))
    ]
    extra = [_line(o.carton, "extra", _extra(o)) for o in reconciliation.extra]
    doubled = [
        _line(
            d.carton,
            "duplicate",
            message("Carton {carton}: two labels with one code. {why}", carton=d.carton, why=words_of(d.why)),
        )
        for d in reconciliation.duplicates
    ]
    asked = [
        _line("", "question", message("Open question: {question}", question=words_of(q.why)))
        for q in reconciliation.questions
    ]
    return (*missing, *damaged, *counted, *extra, *doubled, *asked)


def _here(reconciliation: Reconciliation) -> tuple[ShownLine, ...]:
    return tuple(
        _line(f.carton.carton, f.state.value, message("{carton}: here.", carton=_name(f)))
        for f in reconciliation.received
    )


MOST_PLACES = 3


def _name(finding: CartonFinding) -> Message:
    carton = finding.carton
    places = [address_words(address) for address in carton.addresses[:MOST_PLACES]]
    where = joined(*places, separator="; ") if places else joined(*carton.sections, separator=", ")
    named = {"carton": carton.carton, "kind": term(carton.kind), "where": where}
    more = len(carton.addresses) - MOST_PLACES
    if more > 0:
        return plural(
            more,
            "Carton {carton}, {kind}, for {where} and {number} more place",
            "Carton {carton}, {kind}, for {where} and {number} more places",
            **named,
        )
    if places or carton.sections:
        return message("Carton {carton}, {kind}, for {where}", **named)
    return message("Carton {carton}, {kind}", carton=carton.carton, kind=term(carton.kind))


def _counts(carton: Carton, differing: Iterable[CountedLine]) -> Iterator[Message]:
    """What of a carton was counted otherwise than the manifest says, each a sentence."""
    for line in differing:
        if line.carton == carton.carton:
            content = carton.contents[line.line]
            part = part_words(line.part) if line.part != line.stock else ""
            named = dict.fromkeys((content.description, content.item, part))
            what = joined(*named, separator=", ") if any(named) else part_words(line.part)
            counts = {"what": what, "found": line.here, "expected": line.wanted}
            if line.here < line.wanted:
                yield message("{what}: {found} of {expected} found.", **counts)
            else:
                yield message("{what}: {found} found instead of {expected}.", **counts)


def _damage(note: DamageNoted) -> Text:
    what: Text = opening(term(note.reason))
    if note.item:
        what = message("{damage}, {item}", damage=what, item=note.item)
    usable = message("{damage}, usable", damage=what) if note.usable else message("{damage}, not usable", damage=what)
    return (
        message("{damage}: {remark}.", damage=usable, remark=note.remark)
        if note.remark
        else joined(usable, ".", separator="")
    )


def _extra(over: Over) -> Message:
    why = joined(term(over.why), whose_words(over), separator="; ")
    if over.sscc:
        return message("Extra carton, SSCC {code}: {why}.", code=str(over.sscc), why=why)
    return message("Extra carton, {code}: {why}.", code=repr(over.raw), why=why)
