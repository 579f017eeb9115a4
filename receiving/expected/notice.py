"""An advance ship notice once its messages are understood: packages, what is in them, and for which store."""

from dataclasses import dataclass, field

from receiving.expected.edi import EdiLog
from receiving.messages import Text, joined, message
from receiving.model import has_valid_check_digit, mod10_check_digit

Ids = tuple[tuple[str, str], ...]
"""Identifiers of an item: (qualifier, value) as the message gives them."""

MOST = 10_000
"""Cartons that one range may name; more is taken for an error of the sender."""

MOST_IN_FILE = 100_000
"""Cartons that all ranges of a file may name together, so that a short file cannot ask for millions."""

MOST_UNNUMBERED = 1_000
"""Cartons without a number that one count may stand for; more is taken for an error of the sender."""

NO_REFERENCES: list[tuple[str, str]] = []
"""What packages without an order share; it stays empty."""


@dataclass(slots=True)
class NoticeLine:
    """One line of goods: its identifiers, description, quantity and unit, and its segment in the file."""

    segment: int
    ids: Ids = ()
    description: str = ""
    qty: str = ""
    unit: str = ""

    @property
    def words(self) -> Text:
        """The line as a list of things not understood shows it."""
        named: Text = ", ".join(f"{qualifier} {value}".strip() for qualifier, value in self.ids) or message("no item")
        return joined(f"{self.qty} {self.unit}".strip(), named, self.description)


@dataclass(slots=True)
class Package:
    """One package: SSCCs and other numbers on it, the package that it travels in, its store and its goods.

    ``marks`` are numbers of its label, ``printed`` is the one that people read, and ``fallback`` its id where the
    message gives it none. Weight in kilograms, sizes in centimetres. ``shared``: how many packages the goods are
    spread over; those then hold one and the same list. ``references`` are those of its order.
    """

    segment: int
    fallback: str
    ssccs: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    printed: str = ""
    outer: "Package | None" = None
    store: str = ""
    lines: list[NoticeLine] = field(default_factory=list)
    weight_kg: float | None = None
    length_cm: float | None = None
    width_cm: float | None = None
    height_cm: float | None = None
    holds_packages: bool = False
    shared: int = 1
    references: list[tuple[str, str]] = field(default_factory=lambda: NO_REFERENCES)

    @property
    def is_box(self) -> bool:
        """False for a mere grouping: it holds packages, and has neither a number nor goods of its own."""
        return not self.holds_packages or bool(self.ssccs or self.marks or self.printed or self.lines)

    @property
    def box_around(self) -> "Package | None":
        """The nearest package around this one that is a box."""
        around = self.outer
        while around is not None and not around.is_box:
            around = around.outer
        return around


@dataclass
class Notice:
    """One message: shipment number, purpose, references, packages in file order, and goods without a package."""

    segment: int
    shipment: str = ""
    cancels: bool = False
    replaces: bool = False
    references: list[tuple[str, str]] = field(default_factory=list)
    packages: list[Package] = field(default_factory=list)
    loose: list[NoticeLine] = field(default_factory=list)
    store: str = ""


def set_measure(package: Package, name: str, value: float, log: EdiLog, segment: int) -> None:
    """Set a weight or size; where another one was given, the last is taken and both are said."""
    say_two_measures(getattr(package, name), value, name, log, segment)
    setattr(package, name, value)


def say_two_measures(before: float | None, value: float, name: str, log: EdiLog, segment: int) -> None:
    """Warn where a weight or size was given before and was another one."""
    if before is not None and before != value:
        said = message("a package has two measures of one kind; the last is taken")
        measures = _TWO_MEASURES[name].filled(before=float(before), value=float(value))
        log.warn(segment, "MEA", said, measures)


_TWO_MEASURES = {
    "weight_kg": message("weight {before} and {value} kg"),
    "length_cm": message("length {before} and {value} cm"),
    "width_cm": message("width {before} and {value} cm"),
    "height_cm": message("height {before} and {value} cm"),
}


def bare_sscc(text: str) -> str:
    """The 18 digits of an SSCC that is written with spaces, brackets or its application identifier 00."""
    plain = text.replace(" ", "").replace("-", "")
    if plain.startswith("(00)"):
        return plain[4:]
    return plain[2:] if len(plain) == 20 and plain.startswith("00") else plain


def counted_out(first: str, last: str, log: EdiLog, segment: int) -> list[str]:
    """The numbers that a mark names: one, or all of a range; a range that is none is listed, and its ends are kept."""
    if not last or last == first:
        return [first] if first else []
    most = min(MOST, MOST_IN_FILE - log.counted_out)
    numbers = sscc_range(first, last, most) or _label_range(first, last, most)
    log.counted_out += len(numbers)
    if not numbers:
        log.list(
            segment,
            message("{first} to {last}", first=first, last=last),
            message("the range of serial numbers cannot be counted out; its ends are kept"),
        )
    return numbers or [number for number in (first, last) if number]


def sscc_range(first: str, last: str, most: int = MOST) -> list[str]:
    """All SSCCs from ``first`` to ``last``; empty when they are no range (other prefix, wrong order, over ``most``)."""
    start, end = bare_sscc(first), bare_sscc(last)
    if not (_sound(start) and _sound(end)):
        return []
    low, high = int(start[:-1]), int(end[:-1])
    if not low <= high < low + most:
        return []
    bodies = (f"{body:017d}" for body in range(low, high + 1))
    return [body + mod10_check_digit(body) for body in bodies]


def _label_range(first: str, last: str, most: int) -> list[str]:
    """Serial numbers that differ in their last digits alone, ``S0998`` to ``S1002``."""
    digits = len(first) - len(first.rstrip("0123456789"))
    prefix = first[: len(first) - digits]
    if not digits or len(first) != len(last) or len(bare_sscc(first)) == 18 or not last.startswith(prefix):
        return []
    end = last[len(prefix) :]
    if not (first.isascii() and end.isascii() and end.isdecimal()):
        return []
    low, high = int(first[len(prefix) :]), int(end)
    return [f"{prefix}{n:0{digits}d}" for n in range(low, high + 1)] if low <= high < low + most else []


def _sound(digits: str) -> bool:
    return len(digits) == 18 and has_valid_check_digit(digits)
