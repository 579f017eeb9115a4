"""What a person is asked and told of labels that may be several cartons."""

from collections.abc import Sequence


def prompt_of(cartons: Sequence[str], why: str) -> str:
    """The question which of these cartons a label is, after the reason for it."""
    start = f"{why[:1].upper()}{why[1:]}."
    if not cartons:
        return f"{start} Which carton is it, or none of this shipment?"
    if len(cartons) == 1:
        return f"{start} Is it carton {cartons[0]}, or none of this shipment?"
    return f"{start} Is it carton {listed_words(cartons, 'or')}, or none of this shipment?"


def here_words(cartons: Sequence[str]) -> str:
    """That all of these cartons are here."""
    both = "both are here" if len(cartons) == 2 else "all of them are here"
    return f"carton {cartons[0]} is here" if len(cartons) == 1 else f"cartons {listed_words(cartons)}, {both}"


def listed_words(cartons: Sequence[str], word: str = "and") -> str:
    """The cartons as a sentence lists them."""
    if len(cartons) < 2:
        return "".join(cartons)
    return f"{', '.join(cartons[:-1])} {word} {cartons[-1]}"
