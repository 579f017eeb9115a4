"""Advice on lifting by the NIOSH equation, hardest carton first: at which hand-over, how much, what lowers it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from receiving.messages import Message, Text, figure, joined, listing, message, opening
from receiving.model import ONE_PERSON_KG, TWO_PEOPLE_KG, CartonFinding, LiftAdvice, Place
from receiving.wording import term
from web.pages.tone import Tone
from web.units import both_weights

RISKY = 3
"""From this index on, nobody should lift alone: above 3, many workers are at an elevated risk (94-110, section 1.4)."""


@dataclass(frozen=True)
class LiftLine:
    """One carton that is heavier than is recommended: its lifts, hardest first, and what lowers the hardest."""

    carton: str
    kind: Text
    weight: Text
    tone: Tone
    word: Text
    lifts: tuple[Text, ...]
    lower: Text


@dataclass(frozen=True)
class Lifting:
    """All such cartons; ``always`` is what lowers the index of each of them."""

    lines: tuple[LiftLine, ...]
    always: Text


def lifting_part(lifting: Sequence[LiftAdvice], kinds: Mapping[str, Text]) -> Lifting:
    """The cartons above the recommended limit of one of their lifts."""
    above: dict[str, list[LiftAdvice]] = {}
    for lift in lifting:
        if lift.above:
            above.setdefault(lift.carton, []).append(lift)
    for lifts in above.values():
        lifts.sort(key=hardness, reverse=True)
    hardest = sorted((lifts[0] for lifts in above.values()), key=hardness, reverse=True)
    always = [words for words in hardest[0].lower if all(words in lift.lower for lift in hardest)] if hardest else []
    lines = tuple(_line(above[lift.carton], kinds.get(lift.carton, ""), always) for lift in hardest)
    return Lifting(lines, joined(*always, separator="; ") if always else "")


@dataclass(frozen=True)
class Caution:
    """What to take care of with a carton: what must not be done, in few words, and all of it."""

    brief: Text
    whole: Text

    @property
    def has_more(self) -> bool:
        """More is said of it than the few words."""
        return str(self.brief) != str(self.whole)


def caution_of(finding: CartonFinding) -> Caution | None:
    """The caution that stands with a carton itself; None where there is none."""
    brief: list[Text] = []
    whole: list[Text] = []
    weight_kg = finding.carton.weight_kg or 0
    weight = both_weights(weight_kg)
    if finding.place is Place.OVERHEAD:
        brief.append(message("overhead: do not climb"))
        whole.append(message("overhead: ask store management to bring it down, do not climb"))
    if weight_kg > TWO_PEOPLE_KG:
        brief.append(message("{weight}: not by hand", weight=weight))
        whole.append(message("{weight}: not by hand, ask store management for a lifting aid", weight=weight))
    elif weight_kg > ONE_PERSON_KG:
        brief.append(message("{weight}: not alone", weight=weight))
        whole.append(brief[-1])
    if not brief:
        return None
    return Caution(opening(joined(*brief, separator="; ")), opening(joined(*whole, separator="; ")))


def hardness(lift: LiftAdvice) -> float:
    """The lifting index; endless where no such lift is recommended."""
    return float("inf") if lift.index is None else lift.index


def _line(lifts: Sequence[LiftAdvice], kind: Text, always: Sequence[Text]) -> LiftLine:
    worst = lifts[0]
    risky = hardness(worst) > RISKY
    lower = [words for words in worst.lower if words not in always]
    return LiftLine(
        carton=worst.carton,
        kind=kind,
        weight=both_weights(worst.weight_kg),
        tone=Tone.MISSING if risky else Tone.QUESTION,
        word=message("not alone") if risky else message("with care"),
        lifts=tuple(map(_lift_words, lifts)),
        lower=listing(lower) if lower else "",
    )


def _lift_words(lift: LiftAdvice) -> Message:
    name = term(lift.hand_over)
    if lift.index is None:
        return message("{hand_over}: no lift of this kind is recommended", hand_over=name)
    limit, index = both_weights(lift.limit_kg, tenths=True), figure(lift.index, 1)
    return message("{hand_over}: {limit}, index {index}", hand_over=name, limit=limit, index=index)
