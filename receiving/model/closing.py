"""What is left with the store: the confirmation of what was received."""

from dataclasses import dataclass
from datetime import datetime

from receiving.model.limits import check_moment


@dataclass(frozen=True)
class ShownLine:
    """One line of a receipt exactly as the store manager saw it."""

    carton: str
    state: str
    words: str


@dataclass(frozen=True)
class ShownReceipt:
    """What the store manager was shown: counts and every exception, in plain words.

    ``digest`` is the SHA-256 of the content; a confirmation names it, so what was shown is what is confirmed.
    """

    shipment: str
    store: str
    revision: int
    expected: int
    received: int
    short: int
    extra: int
    questions: int
    lines: tuple[ShownLine, ...]
    digest: str


@dataclass(frozen=True)
class Receipt:
    """A confirmation by the store: who, in which role, when (aware, UTC), and exactly what was shown."""

    number: int
    confirmed_at: datetime
    name: str
    role: str
    remarks: str
    with_exceptions: bool
    shown: ShownReceipt

    def __post_init__(self) -> None:
        check_moment(f"receipt {self.number}: confirmed_at", self.confirmed_at)
