"""The reasons of matching in words: every fact that a reconciliation holds, in this one place."""

from collections.abc import Callable
from typing import Any

from receiving.matching import Reason
from receiving.messages import Joined, Message, Text, joined, listing, message, opening, plural
from receiving.model import Address, CartonFinding, CartonKind, CartonState, Fact, How, Over
from receiving.wording.terms import term
from receiving.wording.values import SSCC_LENGTH, address_words, code_words, codes_words

Values = dict[str, Any]


def words_of(given: Fact) -> Text:
    """The fact as a person reads it, without a full stop."""
    return _WORDS[Reason(given.reason)](dict(given.values))


def finding_words(finding: CartonFinding) -> Text:
    """Why a carton is here or not, and by how many reads where there are several."""
    reads = len(finding.evidence)
    why = words_of(finding.why)
    if reads < 2 or finding.how is How.INSIDE_OUTER:
        return why
    return message("{why}; {number} reads in all", why=why, number=reads)


def whose_words(over: Over) -> Text:
    """Whose carton something is that is not on the manifest; empty where nobody knows."""
    if over.belongs_to is None:
        return ""
    listed = over.belongs_to.reason is Reason.ON_OTHER_MANIFEST
    return _belongs(dict(over.belongs_to.values)) if listed else words_of(over.belongs_to)


# What a label shows


def _fits(v: Values) -> Text:
    """What a partly read label shows."""
    shown = _SHOWN[v["shown"]](v.get("what"))
    size = v.get("size")
    return message("{shown} on a {size} carton", shown=shown, size=size) if size else shown


def _number(what: tuple[int, int | None]) -> Message:
    number, total = what
    if total:
        return message("says carton {carton} of {total}", carton=number, total=total)
    return message("says carton {carton}", carton=number)


def _kind(what: CartonKind | str) -> Message:
    return message("says {words}", words=term(what) if isinstance(what, CartonKind) else what)


_SHOWN: dict[str, Callable[[Any], Message]] = {
    "address": lambda at: message("says {words}", words=address_words(at)),
    "column": lambda column: message("says column {column}", column=column),
    "part": lambda part: message("shows {part} of its code", part=part),
    "number": _number,
    "id": lambda carton: message("says carton {carton}", carton=carton),
    "kind": _kind,
    "item": lambda item: message("names item {item}", item=item),
    "text": lambda text: message("shows {text}", text=repr(text)),
    "slip": lambda text: message("shows {text}, one slip away from a code of the manifest", text=text),
    "code": lambda code: message("carries {code}", code=code_words(code)),
    "codes": lambda codes: message("carries {codes}", codes=codes_words(codes)),
    "blur": lambda _: message("has a blurred code that fits"),
}


# It is this carton


def _code_of_carton(v: Values) -> Text:
    code = opening(code_words(v["code"], v["how"]))
    stated = message("{code} is carton {carton} on the manifest", code=code, carton=v["carton"])
    if "fault" in v:
        stated = message("{sentence}, though {fault}", sentence=stated, fault=v["fault"])
    elif "warned" in v:
        stated = message("{sentence}. {warning}", sentence=stated, warning=v["warned"])
    if "label_at" not in v:
        return stated
    label, own = address_words(v["label_at"]), address_words(v["carton_at"])
    return message("{said}; the label says {label}, the manifest {own}", said=stated, label=label, own=own)


def _last_open(v: Values) -> Message:
    return plural(
        len(v["known"]),
        "The label {fits}: carton {carton} is the only one still open there; {known} is accounted for",
        "The label {fits}: carton {carton} is the only one still open there; {known} are accounted for",
        fits=_fits(v),
        carton=v["carton"],
        known=listing(v["known"]),
    )


def _all_here(v: Values) -> Message:
    cartons, fits = v["cartons"], _fits(v)
    if len(cartons) == 1:
        return message("It {fits}: carton {carton} is here", fits=fits, carton=cartons[0])
    if len(cartons) == 2:
        return message("It {fits}: cartons {cartons}, both are here", fits=fits, cartons=listing(cartons))
    return message("It {fits}: cartons {cartons}, all of them are here", fits=fits, cartons=listing(cartons))


def _blur_leaves(v: Values) -> Message:
    return message(
        "Its blurred code fits carton {carton} or {others}; {others} is elsewhere in the photo",
        carton=v["carton"],
        others=listing(v["others"]),
    )


def _counted_in_photo(v: Values) -> Message:
    return message(
        "It {fits}, as {cartons} cartons do; {count} such labels are in one photo",
        fits=_fits(v),
        cartons=v["of"],
        count=v["count"],
    )


def _by_person(v: Values) -> Text:
    return v["by"] or message("A person")


# It is not on the manifest


def _listed(where: tuple[str, str, str]) -> Message:
    store, shipment, carton = where
    return message("store {store}, shipment {shipment}, carton {carton}", store=store, shipment=shipment, carton=carton)


def _belongs(v: Values) -> Message:
    where = _listed(v["where"])
    match v.get("there"):
        case CartonState.SHORT:
            return message("belongs to {where}, which is short of it", where=where)
        case CartonState.INSIDE:
            return message("belongs to {where}, where it is not seen yet", where=where)
        case CartonState.RECEIVED:
            return message("belongs to {where}, where a carton with this code is here as well", where=where)
    return message("belongs to {where}", where=where)


def _on_several(v: Values) -> Message:
    return message(
        "{code} is on {count} other cartons: {where}",
        code=opening(code_words(v["code"])),
        count=v["count"],
        where=joined(*map(_listed, v["where"]), separator="; "),
    )


def _subject(v: Values) -> Message:
    match v["shown"]:
        case "sscc":
            return message("SSCC {code}", code=v["what"])
        case "address":
            return message("The label for {place}", place=address_words(v["what"]))
    return message("Code {text}", text=repr(v["what"]))


# A person must decide


def _which_carton(v: Values) -> Joined:
    start = message("{reason}.", reason=opening(words_of(v["why"])))
    may_be, again = listing(v["cartons"], choice=True), listing(v["again"], choice=True)
    if may_be.items and again.items:
        asked = message(
            "Is it carton {cartons}, carton {again} seen again, or none of this shipment?", cartons=may_be, again=again
        )
    elif may_be.items:
        asked = message("Is it carton {cartons}, or none of this shipment?", cartons=may_be)
    elif again.items:
        asked = message("Which carton is it, carton {again} seen again, or none of this shipment?", again=again)
    else:
        asked = message("Which carton is it, or none of this shipment?")
    return joined(start, asked)


def _nothing_else(v: Values) -> Message:
    if "beside" not in v:
        return message("the label {fits}, and nothing else can be read", fits=_fits(v))
    return message(
        "the label {fits}, and nothing else can be read; {beside} has the same place, "
        "and a carton of that shipment is here",
        fits=_fits(v),
        beside=_listed(v["beside"]),
    )


def _differ(v: Values) -> Message:
    printed = v["printed"]
    print_ = address_words(printed) if isinstance(printed, Address) else message("carton {carton}", carton=printed)
    if not v["own"]:
        return message("the code is carton {carton}, but the label says {print}", carton=v["carton"], print=print_)
    return message(
        "the code is carton {carton} for {own}, but the label says {print}",
        carton=v["carton"],
        own=listing(address_words(at) for at in v["own"]),
        print=print_,
    )


def _one_slip_away(v: Values) -> Joined:
    fault: Text = v["fault"]
    if not fault and v["digits"] and len(v["text"]) != SSCC_LENGTH:
        fault = message("{text} is not an SSCC, which has {digits} digits.", text=v["text"], digits=SSCC_LENGTH)
    if not fault:
        fault = message("{text} is not on the manifest.", text=v["text"])
    if v["digits"]:
        return joined(fault, message("An SSCC of the manifest is one slip away"))
    return joined(fault, message("A code of the manifest is one slip away"))


def _swapped(v: Values) -> Joined:
    swapped = message("{code} was typed, and with two of its digits swapped it is another carton's.", code=v["code"])
    return joined(swapped, message("Another SSCC of the manifest is one slip away"))


# A carton is here, or not


def _with_reason(v: Values, alone: Message, because: Message) -> Message:
    return because if v["why"] else alone


def _in_closed_outer(v: Values) -> Message:
    if v.get("label_waits"):
        return message(
            "Inside outer box {outer}, which is here and not opened; not seen; "
            "a label that may be this carton waits for an answer",
            outer=v["outer"],
        )
    return message("Inside outer box {outer}, which is here and not opened; not seen", outer=v["outer"])


def _at_two_places(v: Values) -> Message:
    return message(
        "Carton {carton} was read at {first} and {seconds} s later at {second}: "
        "two cartons with one code, or a place noted wrongly. Look at both places.",
        carton=v["carton"],
        first=term(v["first"]),
        seconds=v["seconds"],
        second=term(v["second"]),
    )


_WORDS: dict[Reason, Callable[[Values], Text]] = {
    Reason.CODE_OF_CARTON: _code_of_carton,
    Reason.PERSON_ASSIGNED: lambda v: message(
        "{person} says that this is carton {carton}", person=_by_person(v), carton=v["carton"]
    ),
    Reason.FITS_AGAIN: lambda v: message(
        "The label {fits}: carton {carton} seen again", fits=_fits(v), carton=v["carton"]
    ),
    Reason.FITS_ALONE: lambda v: message(
        "The label {fits}: carton {carton} is the only one of the manifest that fits", fits=_fits(v), carton=v["carton"]
    ),
    Reason.FITS_LAST_OPEN: _last_open,
    Reason.FITS_BEST: lambda v: message(
        "The label {fits}: carton {carton} fits best, about {odds} times likelier than anything else",
        fits=_fits(v),
        carton=v["carton"],
        odds=round(v["odds"]),
    ),
    Reason.ONLY_ONE_THERE: lambda v: message(
        "It {fits}: carton {carton} is the only one there", fits=_fits(v), carton=v["carton"]
    ),
    Reason.POSITION_BESIDE_CODE: lambda v: message(
        "It {fits}: the position label of carton {carton}, whose code is in the same photo",
        fits=_fits(v),
        carton=v["carton"],
    ),
    Reason.BLUR_LEAVES_ONE: _blur_leaves,
    Reason.COUNTED_IN_PHOTO: _counted_in_photo,
    Reason.COUNTED_ONCE: lambda v: message(
        "It {fits}, as {cartons} cartons do; counted as carton {carton}",
        fits=_fits(v),
        cartons=v["of"],
        carton=v["carton"],
    ),
    Reason.ALL_HERE: _all_here,
    Reason.ON_OTHER_MANIFEST: lambda v: opening(_belongs(v)),
    Reason.ON_OTHER_MANIFESTS: _on_several,
    Reason.NAMES_STORE: lambda v: message(
        "The label is for store {store}; this shipment is for store {own}", store=v["store"], own=v["own"]
    ),
    Reason.NAMES_SHIPMENT: lambda v: message(
        "The label names shipment {shipment} for store {store}", shipment=v["shipment"], store=v["store"]
    ),
    Reason.NOT_LISTED: lambda v: message(
        "{code} is not on this manifest nor on any other open shipment", code=_subject(v)
    ),
    Reason.FITS_ELSEWHERE: lambda v: message(
        "{code} is not on this manifest; it fits {shipment}", code=_subject(v), shipment=_listed(v["where"])
    ),
    Reason.FITS_NO_CARTON: lambda v: message("It {fits}, and fits no carton in all else", fits=_fits(v)),
    Reason.PERSON_SAYS_NONE: lambda v: message(
        "{person} says that this is none of this shipment", person=_by_person(v)
    ),
    Reason.NO_CARTON_LABEL: lambda _: message(
        "Not a carton label: nothing on it names a carton, a shipment or a place in the section"
    ),
    Reason.OPEN_FIRST_STICKER: lambda _: message("An open-first sticker; it does not say of which carton"),
    Reason.FAULTY_DATA: lambda v: v["fault"],
    Reason.FITS_TOO_MANY: lambda v: message(
        "The label {fits}, and {count} cartons fit; take a closer photo or type its number",
        fits=_fits(v),
        count=v["count"],
    ),
    Reason.NOT_UNDERSTOOD: lambda v: message(
        "{text} fits nothing on this manifest; type the carton's number, its code, or column and row as 3-2",
        text=repr(v["text"]),
    ),
    Reason.OF_ANOTHER_SHIPMENT: lambda v: message(
        "The label {fits}, as one of shipment {shipment} may, which this pile looks like",
        fits=_fits(v),
        shipment=v["shipment"],
    ),
    Reason.BLURRED_ELSEWHERE: lambda _: message(
        "A blurred code that fits cartons of other shipments and none of this one; take a closer photo"
    ),
    Reason.NOTHING_ELSE_LEGIBLE: _nothing_else,
    Reason.SHARED_CODE: lambda v: message(
        "it {fits}, and so do {cartons} cartons of the manifest", fits=_fits(v), cartons=v["of"]
    ),
    Reason.CODES_OF_SEVERAL: lambda v: message(
        "one label carries {codes}, which belong to different cartons", codes=codes_words(v["codes"])
    ),
    Reason.CODE_AND_PRINT_DIFFER: _differ,
    Reason.UNLISTED_SSCC: lambda v: message(
        "its {code} is on the manifest, its SSCC {sscc} is not", code=code_words(v["code"]), sscc=v["sscc"]
    ),
    Reason.BLURRED: lambda _: message("the code is too blurred to tell between the codes that are expected"),
    Reason.ONE_SLIP_AWAY: _one_slip_away,
    Reason.SWAPPED_DIGITS: _swapped,
    Reason.ITEM_OF_SEVERAL: lambda v: message(
        "item {item} is in {cartons} cartons, so its number alone names none", item=v["what"], cartons=v["of"]
    ),
    Reason.WHICH_CARTON: _which_carton,
    Reason.PERSON_REJECTED: lambda v: _with_reason(
        v,
        message("{person} set this read aside", person=_by_person(v)),
        message("{person} set this read aside: {why}", person=_by_person(v), why=v["why"]),
    ),
    Reason.OPENED: lambda v: message("{person} opened it", person=_by_person(v)),
    Reason.OPENED_COMPLETE: lambda v: message(
        "{person} opened outer box {outer} and found everything inside", person=_by_person(v), outer=v["outer"]
    ),
    Reason.COUNTED: lambda v: message("{person} opened it and counted its contents", person=_by_person(v)),
    Reason.CONFIRMED: lambda v: _with_reason(
        v,
        message("{person} confirms that it is here", person=_by_person(v)),
        message("{person} confirms that it is here: {why}", person=_by_person(v), why=v["why"]),
    ),
    Reason.BROKEN_DOWN: lambda _: message("Known by its contents: broken down by store staff"),
    Reason.NOTHING_SHOWS_IT: lambda _: message("Nothing read or noted shows it"),
    Reason.OUTER_NOT_HERE: lambda v: message(
        "Nothing shows it, nor the outer box {outer} that it travels in", outer=v["outer"]
    ),
    Reason.NOT_IN_OPENED_OUTER: lambda v: message(
        "Outer box {outer} was opened, and this carton was not found", outer=v["outer"]
    ),
    Reason.OTHERS_OF_OUTER_SEEN: lambda v: message(
        "Other cartons of outer box {outer} were seen, this one was not", outer=v["outer"]
    ),
    Reason.IN_CLOSED_OUTER: _in_closed_outer,
    Reason.LABEL_WAITS: lambda _: message("A label that may be this carton waits for an answer"),
    Reason.TWICE_IN_PHOTO: lambda v: message(
        "One photo shows more than one label of carton {carton}: two cartons with one code, "
        "or one carton labelled on two sides. Look at the carton.",
        carton=v["carton"],
    ),
    Reason.AT_TWO_PLACES: _at_two_places,
}
