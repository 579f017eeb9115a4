"""What the receiving advice messages share: who sends to whom, and text that a message can carry unchanged."""

from dataclasses import dataclass

from receiving.errors import BadRequest
from receiving.messages import Text, message
from receiving.model import has_valid_check_digit


@dataclass(frozen=True)
class Parties:
    """Interchange addresses of the two sides, as they agreed on them; a GLN of 13 digits is named as one."""

    sender: str
    receiver: str


@dataclass(frozen=True)
class Limits:
    """What a syntax can carry: its reserved characters, its character set, and how the message is called."""

    what: Text
    reserved: str
    encoding: str


def checked_text(value: str, what: Text, most: int, limits: Limits) -> str:
    """The value unchanged; raises BadRequest where the message cannot carry it as it is.

    Identifiers are never shortened or altered: a receiver would not know them again.
    """
    if not value.strip():
        raise BadRequest(
            message("The {what} is empty, and {form} needs it.", what=what, form=limits.what),
            next_step=message("Fill in the {what}.", what=what),
        )
    if len(value) > most:
        raise BadRequest(
            message(
                "The {what} {value} has {number} characters; {form} carries {most} at most.",
                what=what,
                value=repr(value),
                number=len(value),
                form=limits.what,
                most=most,
            ),
            next_step=message("Send this receipt as PDF, JSON or CSV instead."),
        )
    wrong = sorted({sign for sign in value if sign in limits.reserved or not _carries(sign, limits.encoding)})
    if wrong:
        raise BadRequest(
            message(
                "The {what} {value} holds {signs}, which {form} cannot carry.",
                what=what,
                value=repr(value),
                signs=", ".join(map(repr, wrong)),
                form=limits.what,
            ),
            next_step=message("Send this receipt as PDF, JSON or CSV instead."),
        )
    return value


def _carries(sign: str, encoding: str) -> bool:
    try:
        sign.encode(encoding)
    except UnicodeEncodeError:
        return False
    return sign.isprintable()


def is_gln(number: str) -> bool:
    """True for 13 digits with a right GS1 check digit (GS1 General Specifications, section 7.9.1)."""
    return len(number) == 13 and has_valid_check_digit(number)


def is_gtin(number: str) -> bool:
    """True for 8, 12, 13 or 14 digits with a right GS1 check digit."""
    return len(number) in (8, 12, 13, 14) and has_valid_check_digit(number)
