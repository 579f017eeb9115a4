"""The sentences of matching: every fact in words, in this one place."""

from collections.abc import Callable, Sequence
from typing import Any

from receiving.matching.judgements import Fact, Reason
from receiving.model import How

Values = dict[str, Any]


def sentence(given: Fact) -> str:
    """The fact as a person reads it, without a full stop."""
    return _WORDS[given.reason](dict(given.values))


def prompt(why: Fact, cartons: Sequence[str], again: Sequence[str] = ()) -> str:
    """The question which of these cartons a label is, after the reason for it."""
    start = sentence(why)
    start = f"{start[:1].upper()}{start[1:]}."
    seen = f", carton {listed(again, 'or')} seen again" if again else ""
    if not cartons:
        return f"{start} Which carton is it{seen}, or none of this shipment?"
    return f"{start} Is it carton {listed(cartons, 'or')}{seen}, or none of this shipment?"


def listed(cartons: Sequence[str], word: str = "and") -> str:
    """The cartons as a sentence lists them."""
    if len(cartons) < 2:
        return "".join(cartons)
    return f"{', '.join(cartons[:-1])} {word} {cartons[-1]}"


def code_words(code: str, how: How | None = None) -> str:
    """The code with the word for what it is; with ``how``, as the start of a sentence."""
    word = "SSCC" if how is How.SSCC or (how is None and len(code) == 18 and code.isdigit()) else "barcode"
    return f"{word} {code}" if how is None or word == "SSCC" else f"Barcode {code}"


def codes_words(codes: Sequence[str]) -> str:
    """Several codes, each with its word."""
    return " and ".join(code_words(code) for code in codes)


def _fits(v: Values) -> str:
    """What a partly read label shows."""
    size = v.get("size", "")
    words = _SHOWN[v["shown"]](v.get("what"))
    return words + (f" on a {size} carton" if size else "")


_SHOWN: dict[str, Callable[[Any], str]] = {
    "address": lambda what: f"says {what}",
    "column": lambda what: f"says column {what}",
    "part": lambda what: f"shows {what} of its code",
    "number": lambda what: f"says carton {what}",
    "id": lambda what: f"says carton {what}",
    "kind": lambda what: f"says {what}",
    "item": lambda what: f"names item {what}",
    "text": lambda what: f"shows {what!r}",
    "slip": lambda what: f"shows {what}, one slip away from a code of the manifest",
    "code": lambda what: f"carries {code_words(what)}",
    "codes": lambda what: f"carries {codes_words(what)}",
    "blur": lambda _: "has a blurred code that fits",
}


def _code_of_carton(v: Values) -> str:
    said = f"{code_words(v['code'], v['how'])} is carton {v['carton']} on the manifest"
    if "warned" in v:
        # The manifest has the same fault, so that scanning again, the way out that the warning names, changes nothing.
        said += f", though {_within_a_sentence(v['warned']).removesuffix(': retype or scan again')}"
    return f"{said}; the label says {v['label_at']}, the manifest {v['carton_at']}" if "label_at" in v else said


def _within_a_sentence(words: str) -> str:
    """A sentence as a part of another one; what begins in capitals, as SSCC does, stays."""
    first = words[:2] if words[:2].isupper() else words[:2].lower()
    return f"{first}{words[2:]}".rstrip(".")


def _last_open(v: Values) -> str:
    be = "is" if len(v["known"]) == 1 else "are"
    start = f"The label {_fits(v)}: carton {v['carton']} is the only one still open there"
    return f"{start}; {listed(v['known'])} {be} known otherwise"


def _counted(v: Values) -> str:
    return f"It {_fits(v)}, as {v['of']} cartons do; "


def _all_here(v: Values) -> str:
    cartons = v["cartons"]
    if len(cartons) == 1:
        return f"It {_fits(v)}: carton {cartons[0]} is here"
    both = "both are here" if len(cartons) == 2 else "all of them are here"
    return f"It {_fits(v)}: cartons {listed(cartons)}, {both}"


def _blur_leaves(v: Values) -> str:
    others = listed(v["others"])
    return f"Its blurred code fits carton {v['carton']} or {others}; {others} is elsewhere in the photo"


def _nothing_else(v: Values) -> str:
    said = f"the label {_fits(v)}, and nothing else can be read"
    return f"{said}; {v['beside']} has the same place, and a carton of that shipment is here" if "beside" in v else said


def _on_several(v: Values) -> str:
    code = code_words(v["code"])
    return f"{code[:1].upper()}{code[1:]} is on {v['count']} other cartons: {'; '.join(v['where'])}"


def _differ(v: Values) -> str:
    return f"the code is carton {v['carton']}{v['own']}, but the label says {v['print']}"


def _rejected(v: Values) -> str:
    return f"{v['by'] or 'A person'} set this read aside{': ' + v['why'] if v['why'] else ''}"


_WORDS: dict[Reason, Callable[[Values], str]] = {
    Reason.CODE_OF_CARTON: _code_of_carton,
    Reason.PERSON_ASSIGNED: lambda v: f"{v['by'] or 'A person'} says that this is carton {v['carton']}",
    Reason.FITS_AGAIN: lambda v: f"The label {_fits(v)}: carton {v['carton']} seen again",
    Reason.FITS_ALONE: lambda v: (
        f"The label {_fits(v)}: carton {v['carton']} is the only one of the manifest that fits"
    ),
    Reason.FITS_LAST_OPEN: _last_open,
    Reason.FITS_BEST: lambda v: (
        f"The label {_fits(v)}: carton {v['carton']} fits best, about {v['odds']:.0f} times likelier than anything else"
    ),
    Reason.ONLY_ONE_THERE: lambda v: f"It {_fits(v)}: carton {v['carton']} is the only one there",
    Reason.POSITION_BESIDE_CODE: lambda v: (
        f"It {_fits(v)}: the position label of carton {v['carton']}, whose code is in the same photo"
    ),
    Reason.BLUR_LEAVES_ONE: _blur_leaves,
    Reason.COUNTED_IN_PHOTO: lambda v: f"{_counted(v)}{v['count']} such labels are in one photo",
    Reason.COUNTED_ONCE: lambda v: f"{_counted(v)}counted as carton {v['carton']}",
    Reason.ALL_HERE: _all_here,
    Reason.ON_OTHER_MANIFEST: lambda v: f"Belongs to {v['where']}",
    Reason.ON_OTHER_MANIFESTS: _on_several,
    Reason.NAMES_STORE: lambda v: f"The label is for store {v['store']}; this shipment is for store {v['own']}",
    Reason.NAMES_SHIPMENT: lambda v: f"The label names shipment {v['shipment']} for store {v['store']}",
    Reason.NOT_LISTED: lambda v: f"{v['what']} is not on this manifest nor on any other open shipment",
    Reason.FITS_ELSEWHERE: lambda v: f"{v['what']} is not on this manifest; it fits {v['where']}",
    Reason.FITS_NO_CARTON: lambda v: f"It {_fits(v)}, and fits no carton in all else",
    Reason.PERSON_SAYS_NONE: lambda v: f"{v['by'] or 'A person'} says that this is none of this shipment",
    Reason.NO_CARTON_LABEL: lambda v: (
        "Not a carton label: nothing on it names a carton, a shipment or a place in the section"
    ),
    Reason.OPEN_FIRST_STICKER: lambda v: "An open-first sticker; it does not say of which carton",
    Reason.FAULTY_DATA: lambda v: str(v["fault"]),
    Reason.FITS_TOO_MANY: lambda v: (
        f"The label {_fits(v)}, and {v['count']} cartons fit; take a closer photo or type its number"
    ),
    Reason.NOT_UNDERSTOOD: lambda v: (
        f"{v['text']!r} fits nothing on this manifest; type the carton's number, its code, or column and row as 3-2"
    ),
    Reason.PILE_OF_ANOTHER: lambda v: (
        f"The label {_fits(v)}, as one of shipment {v['shipment']} may, which this pile looks like"
    ),
    Reason.BLURRED_ELSEWHERE: lambda v: (
        "A blurred code that fits cartons of other shipments and none of this one; take a closer photo"
    ),
    Reason.NOTHING_ELSE_LEGIBLE: _nothing_else,
    Reason.SHARED_CODE: lambda v: f"it {_fits(v)}, and so do {v['of']} cartons of the manifest",
    Reason.CODES_OF_SEVERAL: lambda v: (
        f"one label carries {codes_words(v['codes'])}, which belong to different cartons"
    ),
    Reason.CODE_AND_PRINT_DIFFER: _differ,
    Reason.UNLISTED_SSCC: lambda v: f"its {code_words(v['code'])} is on the manifest, its SSCC {v['sscc']} is not",
    Reason.BLURRED: lambda v: "the code is too blurred to tell between the codes that are expected",
    Reason.ONE_SLIP_AWAY: lambda v: f"{v['fault']} {v['code_word']} of the manifest is one slip away",
    Reason.ITEM_OF_SEVERAL: lambda v: f"item {v['what']} is in {v['of']} cartons, so its number alone names none",
    Reason.PERSON_REJECTED: _rejected,
}
assert set(_WORDS) == set(Reason)
