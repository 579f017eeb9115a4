"""Cautions in lines for page, paper and command: the few that matter most first, and cartons with the same together."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from receiving.messages import Text, message
from receiving.model.measure_words import both_weights_words
from receiving.model.plan import TWO_PEOPLE_KG, Caution, Topic


@dataclass(frozen=True)
class Cautions:
    """What to take care of: the few that matter most, and the others; each is one line."""

    first: tuple[Text, ...] = ()
    others: tuple[Text, ...] = ()


MOST_FIRST = 3
"""So many cautions are said at once: a page full of them teaches people to pass over them (our choice)."""


def ranked_cautions(cautions: Iterable[Caution]) -> Cautions:
    """The cautions in lines, those that matter most first; several cartons with one and the same share a line."""
    lines: list[Text] = []
    for topic, group in groupby(cautions, key=lambda caution: caution.topic):
        found = list(group)
        names = list(dict.fromkeys(caution.carton for caution in found if caution.carton))
        if topic in TOGETHER and len(names) > 1:
            lines.append(TOGETHER[topic].filled(cartons=", ".join(names), together=_TWO_PEOPLE))
        else:
            lines += [caution.text for caution in found]
    return Cautions(tuple(lines[:MOST_FIRST]), tuple(lines[MOST_FIRST:]))


TOGETHER = {
    Topic.OVERHEAD: message(
        "Cartons {cartons} are in overhead storage: ask store management to bring them down; do not climb."
    ),
    Topic.NOT_BY_HAND: message(
        "Cartons {cartons} are not to be lifted by hand: take their contents out, or ask store management for suitable "
        "equipment. Their weights stand beside them."
    ),
    Topic.HEAVY: message(
        "Cartons {cartons} are heavy: two people (up to {together}) or a lifting aid. What is recommended for each "
        "lift stands under Lifting."
    ),
    Topic.BY_HAND: message("Cartons {cartons} do not fit the cart: two people carry each, one trip for it alone."),
}
"""What is said of several cartons at once."""

_TWO_PEOPLE = both_weights_words(TWO_PEOPLE_KG, inside=True)
