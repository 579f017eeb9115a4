"""How much of the floor in front of a bay cartons may take, so that the aisle keeps the width that must stay free.

The layout says how wide the aisle is and how much of it must stay free; local code and store management decide both.
"""

from collections.abc import Iterable

from receiving.messages import Text, message, plural
from receiving.model import Aisle, Bay, Layout, Spot
from receiving.model.measures import both_lengths_words

KEEP_CLEAR_CM = 91.5
"""Kept free where a layout states the aisle but not this: 36 in, the least clear width of an accessible route.

Source: 2010 ADA Standards for Accessible Design, 403.5.1 (36 inches, 915 mm; from memory). Local codes often ask for
more, above all in aisles that lead to an exit.
"""


WORKING_STRIP_CM = 75.0
"""Kept free between a fixture and the cartons before it, so that a person can stand and set it (common practice, no
source). It is on the side of the fixture, and is the way that stays free for others as well."""


def keep_clear_cm(bay: Bay, layout: Layout) -> float:
    """The width of the aisle in front of this bay that must stay free: the bay's own, the store's, else our default."""
    return bay.keep_clear_cm or layout.keep_clear_cm or KEEP_CLEAR_CM


def usable_depth_cm(bay: Bay, layout: Layout) -> float:
    """The depth of floor in front of the bay that cartons may take; all of it where no aisle is stated."""
    if bay.aisle_width_cm is None:
        return bay.staging_depth_cm
    return max(0.0, min(bay.staging_depth_cm, bay.aisle_width_cm - max(WORKING_STRIP_CM, keep_clear_cm(bay, layout))))


def aisle_before(bay: Bay, layout: Layout, spots: Iterable[Spot] = ()) -> Aisle | None:
    """The aisle with these stacks on its floor; None where the layout does not say how wide it is."""
    if bay.aisle_width_cm is None:
        return None
    taken_cm = max((spot.y_cm + spot.width_cm for spot in spots), default=0.0)
    return Aisle(
        width_cm=bay.aisle_width_cm,
        keep_clear_cm=keep_clear_cm(bay, layout),
        clear_cm=round(bay.aisle_width_cm - taken_cm, 1),
        floor_depth_cm=usable_depth_cm(bay, layout),
        assumed=not (bay.keep_clear_cm or layout.keep_clear_cm),
    )


def aisle_cautions(layout: Layout, bays: Iterable[Bay]) -> tuple[Text, ...]:
    """What people must know of the aisles before these bays: too narrow ones, unmeasured ones, assumed figures."""
    words: list[Text] = []
    wanted = tuple(bays)
    for bay in wanted:
        aisle = aisle_before(bay, layout)
        if aisle and not aisle.floor_depth_cm and bay.staging_depth_cm:
            words.append(
                message(
                    "No floor in front of bay {bay}: its aisle is {width} wide, and {keep} must stay free.",
                    bay=bay.bay,
                    width=both_lengths_words(aisle.width_cm),
                    keep=both_lengths_words(aisle.keep_clear_cm),
                )
            )
    unmeasured = [bay.bay for bay in wanted if bay.aisle_width_cm is None and bay.staging_depth_cm]
    if unmeasured:
        words.append(
            plural(
                len(unmeasured),
                "The layout does not say how wide the aisle in front of bay {bays} is: measure what stays free beside "
                "the floor kept for cartons. Local code and store management decide how much that must be.",
                "The layout does not say how wide the aisle in front of bays {bays} is: measure what stays free beside "
                "the floor kept for cartons. Local code and store management decide how much that must be.",
                bays=", ".join(unmeasured),
            )
        )
    if any(aisle and aisle.assumed for aisle in (aisle_before(bay, layout) for bay in wanted)):
        words.append(
            message(
                "The layout does not say how much of an aisle must stay free: {keep} is planned (accessible route, "
                "2010 ADA Standards 403.5.1). Local code and store management decide, and may ask for more.",
                keep=both_lengths_words(KEEP_CLEAR_CM),
            )
        )
    return tuple(words)
