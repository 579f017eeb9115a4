"""The few tones that a state is shown in: each is a colour, an icon and a word, never a colour alone."""

from enum import StrEnum

from receiving.messages import message
from receiving.model import CartonState, Outcome


class Tone(StrEnum):
    """How a state looks; the value names the style class and the icon."""

    HERE = "here"
    INSIDE = "inside"
    MISSING = "missing"
    EXTRA = "extra"
    QUESTION = "question"
    DAMAGED = "damaged"
    PLAIN = "plain"


STATE_TONES = {
    CartonState.RECEIVED: Tone.HERE,
    CartonState.INSIDE: Tone.INSIDE,
    CartonState.SHORT: Tone.MISSING,
}

OUTCOME_TONES = {
    Outcome.MATCHED: Tone.HERE,
    Outcome.DUPLICATE: Tone.QUESTION,
    Outcome.OVER: Tone.EXTRA,
    Outcome.QUESTION: Tone.QUESTION,
    Outcome.REJECTED: Tone.PLAIN,
    Outcome.UNCLEAR: Tone.QUESTION,
}

OUTCOME_WORDS = {
    Outcome.MATCHED: message("Here"),
    Outcome.DUPLICATE: message("Second label"),
    Outcome.OVER: message("Not on this shipment"),
    Outcome.QUESTION: message("Which one?"),
    Outcome.REJECTED: message("Left out"),
    Outcome.UNCLEAR: message("Unclear"),
}
