"""What one label observation says by itself, by its strongest data: whole codes, then whose it is, then parts.

`certain_names` says what surely names one carton, for a device that has to answer while the service is out of reach.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from receiving.matching.assignment import QUESTION_BELOW, Statement, statement
from receiving.matching.catalogue import Catalogue, codes_of, number_of
from receiving.matching.observations import (
    Candidates,
    Judgement,
    Matched,
    Observation,
    OverLabel,
    Reason,
    Shared,
    UnclearLabel,
)
from receiving.matching.overs import faulty_data, judge_unknown, names_this_shipment, over_by_name
from receiving.model import SHORTEST_FOLDED, Address, Carton, Claim, Fact, How, LabelRead, Source, fact, fault_of_sscc

SSCC_AI = "00"
SSCC_LENGTH = 18
NEAR_LENGTHS = range(SSCC_LENGTH - 1, SSCC_LENGTH + 2)
_BEFORE_DIGITS = re.compile(r"^\s*(?:SSCC)?[\s:#.]*(?:\(00\))?", re.IGNORECASE)
_BETWEEN_DIGITS = str.maketrans("", "", " -.()\u00a0\u2009\u202f")

Target = tuple[How, str, tuple[str, ...]]


def identify(observation: Observation, catalogue: Catalogue) -> Judgement:
    """What this label says. The same for the same label and manifest, whatever else was seen."""
    if observation.ambiguous:
        return _between_codes(observation, catalogue)
    known = _by_code(observation, catalogue)
    if known is not None:
        return known
    over = over_by_name(observation, catalogue)
    if over is not None:
        return over
    return _with_slips(
        observation, catalogue, _by_parts(observation, catalogue) or judge_unknown(observation, catalogue)
    )


def _by_code(observation: Observation, catalogue: Catalogue) -> Judgement | None:
    targets = list(_targets(observation, catalogue))
    if not targets:
        return None
    how, code, cartons = targets[0]
    if len(targets) > 1:
        # A label may carry its SSCC and the item's GTIN: both fit one carton, and no code outvotes another.
        common = set(cartons).intersection(*(names for _, _, names in targets[1:]))
        if not common:
            return _contradiction(observation, targets)
        if len(common) < len(cartons):
            cartons = tuple(name for name in cartons if name in common)
    return _of_code(observation, catalogue, how, code, cartons)


def _targets(observation: Observation, catalogue: Catalogue) -> Iterator[Target]:
    """The codes on the label that the manifest knows, each with its cartons."""
    seen: set[str] = set()
    for read in observation.reads:
        for how, code in _codes_of_read(read):
            cartons = catalogue.with_code(code)
            if cartons and code not in seen:
                seen.add(code)
                yield how, code, cartons
    # Only what is typed may match with characters left out or added: a symbol that differs is another code.
    if not seen and observation.typed:
        for text in observation.values("barcode"):
            cartons = catalogue.typed_code(text)
            if cartons:
                yield How.BARCODE, text, cartons


def _codes_of_read(read: LabelRead) -> Iterator[tuple[How, str]]:
    claim = read.claim
    if claim.sscc is not None:
        yield How.SSCC, claim.sscc.digits
    if claim.barcode:
        yield How.BARCODE, claim.barcode
    if claim.gtin:
        yield How.BARCODE, claim.gtin
    for number in claim.numbers:
        yield How.BARCODE, number
    if claim.warnings and claim.sscc is None:
        yield from ((How.BARCODE, digits) for digits in _digits_of_no_sscc(read))


def _of_code(
    observation: Observation, catalogue: Catalogue, how: How, code: str, cartons: tuple[str, ...]
) -> Judgement:
    claims = observation.claims
    if how is How.BARCODE and not names_this_shipment(observation, catalogue):
        over = over_by_name(observation, catalogue)
        if over is not None:
            return over
    # Most labels carry this one code and nothing that could speak against it: all that follows asks what does.
    if len(claims) == 1 and len(cartons) == 1 and _says_code_alone(claims[0]) and not observation.typed:
        return Matched(observation, cartons[0], how, _code_fact(observation, catalogue.by_id[cartons[0]], code, how))
    unlisted = [s for s in observation.values("sscc") if not catalogue.with_code(s)]
    if unlisted and how is not How.SSCC and any(catalogue.by_id[c].sscc for c in cartons):
        why = fact(Reason.UNLISTED_SSCC, code=code, sscc=unlisted[0])
        return _asked(observation, cartons, code, why)
    swapped = _swapped(observation, catalogue, code) if observation.typed else ()
    if swapped:
        return _asked(observation, (*cartons, *swapped), code, fact(Reason.SWAPPED_DIGITS, code=code))
    if len(cartons) > 1:
        narrowed = _narrowed(statement(observation, catalogue), cartons)
        if len(narrowed) > 1:
            return Shared(observation, narrowed, code)
        cartons = narrowed
    carton = catalogue.by_id[cartons[0]]
    clash = _clash(observation, catalogue, carton)
    if clash is not None:
        return clash
    return Matched(observation, carton.carton, how, _code_fact(observation, carton, code, how))


def _swapped(observation: Observation, catalogue: Catalogue, code: str) -> tuple[str, ...]:
    """The cartons whose SSCC this one is with two neighbours swapped: no check digit tells a 1 beside a 6 from that."""
    if len(code) != SSCC_LENGTH:
        return ()
    # With weights 3 and 1 the sum changes by twice the difference of the digits: by 10 where that is 5 (General
    # Specifications, 7.9).
    swaps = {code[:n] + code[n + 1] + code[n] + code[n + 2 :] for n in range(len(code) - 1)} - {code}
    return tuple(sorted({name for other in swaps for name in catalogue.with_code(other)}))


def _says_code_alone(claim: Claim) -> bool:
    """Nothing on it can speak against its code."""
    return claim.address is None and not claim.carton and not (claim.sscc and (claim.barcode or claim.gtin))


def _asked(observation: Observation, cartons: tuple[str, ...], code: str, why: Fact) -> Candidates:
    return Candidates(
        observation, cartons, (0.0,) * len(cartons), (("shown", "code"), ("what", code)), How.BARCODE, ask=why
    )


def _contradiction(observation: Observation, targets: list[Target]) -> Candidates:
    cartons = tuple(sorted({c for _, _, found in targets for c in found}))
    codes = tuple(code for _, code, _ in targets)
    shown = (("shown", "codes"), ("what", codes))
    why = fact(Reason.CODES_OF_SEVERAL, codes=codes)
    return Candidates(observation, cartons, (0.0,) * len(cartons), shown, ask=why)


def _clash(observation: Observation, catalogue: Catalogue, carton: Carton) -> Candidates | None:
    """A question, where the print on the label is another carton's than its code."""
    name = carton.carton
    printed = [id_ for id_ in observation.values("carton") if names_this_shipment(observation, catalogue)]
    by_id = {other for id_ in printed for other in catalogue.with_id(id_)}
    if by_id and name not in by_id:
        return _differing(observation, carton, sorted(by_id), printed[0])
    stated, own = observation.addresses, carton.addresses
    if not stated or not own or any(one.fits(other) for one in stated for other in own):
        return None
    there = sorted({other for at in stated for other in catalogue.at(at)} - {name})
    if not there:
        return None
    return _differing(observation, carton, there, stated[0], own)


def _differing(
    observation: Observation,
    carton: Carton,
    others: list[str],
    printed: Address | str,
    own: tuple[Address, ...] = (),
) -> Candidates:
    """A question, as the print names another carton by its id or place; ``own`` are the places of the code's carton."""
    cartons = (carton.carton, *others)
    why = fact(Reason.CODE_AND_PRINT_DIFFER, carton=carton.carton, own=own, printed=printed)
    shown = (("shown", "address" if isinstance(printed, Address) else "id"), ("what", printed))
    return Candidates(observation, cartons, (0.0,) * len(cartons), shown, ask=why)


def _narrowed(label: Statement, cartons: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the cartons that all else on the label fits best."""
    if not (label.fitting or label.kinds or label.sections or label.size or label.open_first):
        return cartons
    by_id = label.catalogue.by_id
    costs = {name: label.cost(by_id[name]) for name in cartons}
    best = min(costs.values(), default=0.0)
    return tuple(name for name in cartons if costs[name] - best < QUESTION_BELOW)


def _code_fact(observation: Observation, carton: Carton, code: str, how: How) -> Fact:
    given = fact(Reason.CODE_OF_CARTON, code=code, how=how, carton=carton.carton)
    faulty = [read for read in observation.reads if read.claim.warnings and not read.claim.sscc]
    if any(code in _digits_of_no_sscc(read) for read in faulty):
        # The manifest has the same fault, so that scanning again, which the label's own warning advises, does not help.
        given = given.adding(fault=fault_of_sscc(code))
    elif faulty:
        given = given.adding(warned=faulty[0].claim.warnings[0])
    stated, own = observation.addresses, carton.addresses
    if stated and own and not any(one.fits(other) for one in stated for other in own):
        given = given.adding(label_at=stated[0], carton_at=own[0])
    return given


def _between_codes(observation: Observation, catalogue: Catalogue) -> Candidates | UnclearLabel:
    """A guided read that fits several codes: for a person, with what else the label says, if any of them is ours."""
    raws = [raw for read in observation.reads for raw in (read.raw.raw, *read.raw.alternatives)]
    found = tuple(dict.fromkeys(c for raw in raws for c in catalogue.with_raw(raw)))
    plain = [c for read in observation.reads if not read.raw.alternatives for _, c in _codes_of_read(read)]
    sure = tuple(dict.fromkeys(c for code in plain for c in catalogue.with_code(code)))
    cartons = sure if sure and not found else tuple(c for c in found if c in sure) or found
    if not cartons:
        return UnclearLabel(observation, fact(Reason.BLURRED_ELSEWHERE))
    cartons = tuple(sorted(_narrowed(statement(observation, catalogue), cartons)))
    why = fact(Reason.BLURRED)
    return Candidates(observation, cartons, (0.0,) * len(cartons), (("shown", "blur"),), How.GUIDED, ask=why)


def _by_parts(observation: Observation, catalogue: Catalogue) -> Candidates | None:
    """The cartons that the label's parts fit; a label with an SSCC can only be a carton that is listed without one."""
    label = statement(observation, catalogue)
    fitting = label.candidates()
    if observation.values("sscc"):
        fitting = tuple((name, nats) for name, nats in fitting if catalogue.by_id[name].sscc is None)
    if not fitting:
        return _by_kind(label)
    cartons, costs = zip(*fitting, strict=True)
    how = How.ADDRESS if observation.addresses or not label.has_part else How.BARCODE
    ask = None
    if label.items_only and len(cartons) > 1:
        ask = fact(Reason.ITEM_OF_SEVERAL, what=dict(label.shown)["what"], of=len(cartons))
    return Candidates(observation, cartons, costs, label.shown, how, ask)


def _by_kind(label: Statement) -> Candidates | None:
    """A label that shows nothing but a kind is never resolved alone: many labels look so from a bad side."""
    observation, alike = label.observation, label.of_its_kind()
    if observation.addresses or observation.values("sscc") or not alike:
        return None
    why = fact(Reason.NOTHING_ELSE_LEGIBLE).adding(**dict(label.shown))
    return Candidates(observation, alike, (0.0,) * len(alike), label.shown, ask=why)


def _with_slips(
    observation: Observation, catalogue: Catalogue, otherwise: Candidates | OverLabel | UnclearLabel
) -> Judgement:
    """A question, never a match, where what was typed is one typing mistake away from a code of the manifest.

    ``otherwise`` is what the label is without that: it stands where no code is near, where the cartons of the near
    ones are all here, and where it points to one of them too.
    """
    for text in _slipped_texts(observation):
        near = catalogue.near(text)
        if not near:
            continue
        if isinstance(otherwise, Candidates) and set(near) & set(otherwise.cartons) and observation.addresses:
            return otherwise
        others = otherwise.cartons if isinstance(otherwise, Candidates) and observation.addresses else ()
        cartons = (*near, *(name for name in others if name not in near))
        ask = fact(Reason.ONE_SLIP_AWAY, text=text, fault=faulty_data(observation), digits=_is_near_an_sscc(text))
        left = otherwise if not isinstance(otherwise, Candidates) else None
        shown = (("shown", "slip"), ("what", text))
        return Candidates(observation, cartons, (0.0,) * len(cartons), shown, How.BARCODE, ask, left)
    return otherwise


def _is_near_an_sscc(text: str) -> bool:
    return text.isdigit() and len(text) in NEAR_LENGTHS


def _slipped_texts(observation: Observation) -> list[str]:
    """What was typed for a code: digits where an SSCC should be, or any text that no pattern knows."""
    texts: dict[str, None] = {}
    for read in observation.reads:
        claim, typed = read.claim, read.raw.source is Source.TYPED
        texts |= dict.fromkeys(_digits_of_no_sscc(read))
        if typed and claim.sscc is not None:
            texts[claim.sscc.digits] = None
        elif typed and claim.barcode:
            texts[claim.barcode] = None
    return list(texts)


def _digits_of_no_sscc(read: LabelRead) -> Iterator[str]:
    """The digits that stand where an SSCC should: of AI 00, or all that was typed."""
    claim = read.claim
    if claim.sscc is not None:
        return
    if claim.warnings:
        yield from (value for ai, value in claim.elements if ai == SSCC_AI and len(value) in NEAR_LENGTHS)
    typed = read.raw.source is not Source.PHOTO and not read.raw.symbology
    if not typed and not claim.warnings:
        return
    digits = _BEFORE_DIGITS.sub("", claim.barcode or read.raw.raw).translate(_BETWEEN_DIGITS)
    if len(digits) in NEAR_LENGTHS and digits.isascii() and digits.isdigit():
        yield digits
    # The identifier was typed along, without its brackets.
    if len(digits) - 2 in NEAR_LENGTHS and digits.startswith(SSCC_AI) and digits.isascii() and digits.isdigit():
        yield digits[2:]


@dataclass(frozen=True)
class CertainNames:
    """Carton ids by every form of their codes, empty where several cartons share it; and by what a person may type.

    ``typed`` has numbers without leading zeros, ids and short codes in lower case, and places as ``column-row``, each
    only where it means one carton and nothing else.
    """

    codes: dict[str, str]
    typed: dict[str, str]


def certain_names(catalogue: Catalogue, typed_read: Callable[[str], LabelRead]) -> CertainNames:
    """What surely names one carton; ``typed_read`` gives the read of a text that a person typed."""
    codes = {form: names[0] if len(names) == 1 else "" for form, names in catalogue.by_form.items()}
    typed = {text: _alone(catalogue, typed_read(text)) for text in dict.fromkeys(_texts(catalogue))}
    return CertainNames(codes, {text: carton for text, carton in typed.items() if carton})


def _texts(catalogue: Catalogue) -> Iterator[str]:
    for name in catalogue.by_id:
        number = number_of(name)
        yield name.casefold()
        yield from [str(number)] if number is not None else []
        yield from (code.casefold() for code in codes_of(catalogue.by_id[name]) if len(code) < SHORTEST_FOLDED)
    yield from (f"{column}-{row}" for column, row in catalogue.by_cell)


def _alone(catalogue: Catalogue, read: LabelRead) -> str:
    """The carton that this read says whatever else is read; empty where it leaves a doubt."""
    stated = identify(Observation((read,)), catalogue)
    if isinstance(stated, Matched):
        return stated.carton
    if isinstance(stated, Candidates) and stated.ask is None and len(stated.cartons) == 1:
        return stated.cartons[0]
    return ""
