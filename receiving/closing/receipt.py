"""The receipt: what the store manager is shown, in plain words, and confirms."""

import hashlib
import json
from collections.abc import Mapping

from receiving.model import (
    CartonFinding,
    CartonState,
    Manifest,
    Over,
    Reconciliation,
    ShortDeclaration,
    ShownLine,
    ShownReceipt,
)
from receiving.wording import finding_words, whose_words, words_of


def show_receipt(
    reconciliation: Reconciliation,
    manifest: Manifest,
    revision: int,
    declared: Mapping[str, ShortDeclaration] | None = None,
) -> ShownReceipt:
    """What a store manager has to look at: counts, every exception, then every carton that is here.

    ``declared`` says by carton that a missing one is declared short. The digest covers every word shown, so that a
    confirmation can prove what it confirmed.
    """
    lines = (*_exceptions(reconciliation, declared or {}), *_here(reconciliation))
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
    said = line.declared
    declared = [said.by, said.at.isoformat(), said.reason, list(said.searched)] if said else []
    return [
        line.carton,
        line.state,
        line.words,
        *([list(line.photos)] if line.photos else []),
        *([declared] if declared else []),
    ]


def declaration_words(declared: ShortDeclaration, when: str) -> str:
    """That a carton is declared short as a sentence; ``when`` is its time as the reader writes times."""
    who = ", ".join(filter(None, (declared.by, when)))
    places = ", ".join(place.words for place in declared.searched)
    looked = f"Looked for in: {places}." if places else "Not looked for."
    reason = declared.reason.rstrip(".")
    return f"Declared short{f' by {who}' if who else ''}{f': {reason}' if reason else ''}. {looked}"


def _exceptions(reconciliation: Reconciliation, declared: Mapping[str, ShortDeclaration]) -> tuple[ShownLine, ...]:
    missing = [
        ShownLine(
            f.carton.carton,
            f.state.value,
            f"{_name(f)}: {f.state.words}. {finding_words(f)}",
            declared=declared.get(f.carton.carton) if f.state is CartonState.SHORT else None,
        )
        for f in reconciliation.cartons
        if f.state is not CartonState.RECEIVED
    ]
    damaged = [
        ShownLine(
            f.carton.carton,
            "damaged",
            f"{_name(f)}: damaged. {_damage_words(f)}",
            tuple(dict.fromkeys(note.photo for note in f.damage if note.photo)),
        )
        for f in reconciliation.cartons
        if f.damage
    ]
    extra = [ShownLine(o.carton, "extra", _extra_words(o)) for o in reconciliation.extra]
    doubled = [
        ShownLine(d.carton, "duplicate", f"Carton {d.carton}: two labels with one code. {words_of(d.why)}")
        for d in reconciliation.duplicates
    ]
    asked = [ShownLine("", "question", f"Open question: {words_of(q.why)}") for q in reconciliation.questions]
    return (*missing, *damaged, *extra, *doubled, *asked)


def _here(reconciliation: Reconciliation) -> tuple[ShownLine, ...]:
    return tuple(ShownLine(f.carton.carton, f.state.value, f"{_name(f)}: here.") for f in reconciliation.received)


def _name(finding: CartonFinding) -> str:
    carton = finding.carton
    where = "; ".join(str(address) for address in carton.addresses[:3]) or ", ".join(carton.sections)
    more = f" and {len(carton.addresses) - 3} more places" if len(carton.addresses) > 3 else ""
    return f"Carton {carton.carton}, {carton.kind.words}{f', for {where}{more}' if where else ''}"


def _damage_words(finding: CartonFinding) -> str:
    return " ".join(
        f"{note.reason.value.replace('_', ' ').capitalize()}{f', {note.item}' if note.item else ''}, "
        f"{'usable' if note.usable else 'not usable'}{f': {note.remark}' if note.remark else ''}."
        for note in finding.damage
    )


def _extra_words(over: Over) -> str:
    code = over.code if over.sscc else repr(over.raw)
    return f"Extra carton, {code}: {'; '.join(filter(None, (over.why.words, str(whose_words(over)))))}."
