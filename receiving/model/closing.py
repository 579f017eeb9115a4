"""What is left with the store: the confirmation of what was received."""

from dataclasses import dataclass
from datetime import datetime

from receiving.model.advice import ReceivingAdvice
from receiving.model.facts import StoredMessage
from receiving.model.limits import check_moment
from receiving.model.reads import Place


@dataclass(frozen=True)
class ShortDeclaration:
    """Who declared a missing carton short, when (aware, UTC), where it was looked for, and why not everywhere."""

    by: str
    at: datetime
    reason: str = ""
    searched: tuple[Place, ...] = ()

    def __post_init__(self) -> None:
        check_moment("declared short at", self.at)


@dataclass(frozen=True)
class ShownLine:
    """One line of a receipt as the store manager saw it, in English; ``photos`` (SHA-256) show the damage.

    ``declared`` says of a missing carton that it is declared short, ``said`` is what ``words`` say for readers of
    other languages; receipts of earlier versions may lack either.
    """

    carton: str
    state: str
    words: str
    photos: tuple[str, ...] = ()
    declared: ShortDeclaration | None = None
    said: StoredMessage | None = None


@dataclass(frozen=True)
class ShownReceipt:
    """What the store manager was shown: counts and every exception, in plain words.

    ``digest`` is the SHA-256 of the content in English, whatever language it was shown in; a confirmation names it, so
    what was shown is what is confirmed.
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


Stroke = tuple[tuple[int, int], ...]
"""The points of one movement of the finger, in thousandths of the signature's width."""

MOST_POINTS = 4000


@dataclass(frozen=True)
class Signature:
    """A signature drawn with a finger: x grows to the right and y downwards, 0 to 1000 and 0 to ``height``."""

    strokes: tuple[Stroke, ...]
    height: int

    def __post_init__(self) -> None:
        points = [point for stroke in self.strokes for point in stroke]
        if not 0 < len(points) <= MOST_POINTS or not 0 < self.height <= 1000:
            raise ValueError(f"a signature of {len(points)} points and height {self.height}")
        if not all(0 <= x <= 1000 and 0 <= y <= self.height for x, y in points):
            raise ValueError("a point of the signature lies outside its field")

    @property
    def path(self) -> str:
        """The strokes as the data of an SVG path.

        >>> Signature((((10, 20), (30, 40)), ((5, 5),)), 300).path
        'M10 20L30 40M5 5L5 5'
        """
        return "".join(
            f"M{stroke[0][0]} {stroke[0][1]}" + "".join(f"L{x} {y}" for x, y in stroke[1:] or stroke)
            for stroke in self.strokes
            if stroke
        )


@dataclass(frozen=True)
class Receipt:
    """A confirmation by the store: who, in which role, when (aware, UTC), and exactly what was shown.

    ``taken_by`` is who was signed in at the browser, ``by_pin``: the store manager's own PIN stands for a signature.
    ``advice`` are the same facts for messages that go out; receipts of earlier versions have none. ``asked`` is the
    digest of what was shown before, where the confirmation declared missing cartons short or came from a phone that
    told what it did since; else empty. ``language`` (BCP 47) is the one in which it was shown.
    """

    number: int
    confirmed_at: datetime
    name: str
    role: str
    remarks: str
    with_exceptions: bool
    shown: ShownReceipt
    taken_by: str = ""
    signature: Signature | None = None
    advice: ReceivingAdvice | None = None
    by_pin: bool = False
    asked: str = ""
    language: str = "en"

    def __post_init__(self) -> None:
        check_moment(f"receipt {self.number}: confirmed_at", self.confirmed_at)


@dataclass(frozen=True)
class Seal:
    """What proves a receipt: a header over its digests, its Ed25519 signature, and the public key (hexadecimal)."""

    header: str
    signature: str
    public_key: str


@dataclass(frozen=True)
class SealedRecord:
    """A receipt's text exactly as it was stored, and its seal."""

    shipment: str
    number: int
    text: str
    seal: Seal
