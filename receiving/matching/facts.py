"""Why matching says what it says, as facts: a reason and its parameters. `wording` makes sentences of them."""

from dataclasses import dataclass
from enum import StrEnum, auto
from typing import Any


class Reason(StrEnum):
    """Every reason that matching gives; the parameters of each stand beside its words in `wording`."""

    # A label, or a person, names a carton.
    CODE_OF_CARTON = auto()
    PERSON_ASSIGNED = auto()
    FITS_AGAIN = auto()
    FITS_ALONE = auto()
    FITS_LAST_OPEN = auto()
    FITS_BEST = auto()
    ONLY_ONE_THERE = auto()
    POSITION_BESIDE_CODE = auto()
    BLUR_LEAVES_ONE = auto()
    COUNTED_IN_PHOTO = auto()
    COUNTED_ONCE = auto()
    # It fits cartons that are all here.
    ALL_HERE = auto()
    # Something is not on the manifest.
    ON_OTHER_MANIFEST = auto()
    ON_OTHER_MANIFESTS = auto()
    NAMES_STORE = auto()
    NAMES_SHIPMENT = auto()
    NOT_LISTED = auto()
    FITS_ELSEWHERE = auto()
    FITS_NO_CARTON = auto()
    PERSON_SAYS_NONE = auto()
    NO_CARTON_LABEL = auto()
    OPEN_FIRST_STICKER = auto()
    FAULTY_DATA = auto()
    # It says too little.
    FITS_TOO_MANY = auto()
    NOT_UNDERSTOOD = auto()
    PILE_OF_ANOTHER = auto()
    BLURRED_ELSEWHERE = auto()
    # A person must decide.
    NOTHING_ELSE_LEGIBLE = auto()
    SHARED_CODE = auto()
    CODES_OF_SEVERAL = auto()
    CODE_AND_PRINT_DIFFER = auto()
    UNLISTED_SSCC = auto()
    BLURRED = auto()
    ONE_SLIP_AWAY = auto()
    ITEM_OF_SEVERAL = auto()
    # A read is left out.
    PERSON_REJECTED = auto()


@dataclass(frozen=True, slots=True)
class Fact:
    """A reason with its parameters, by name."""

    reason: Reason
    values: tuple[tuple[str, Any], ...] = ()

    def __getitem__(self, name: str) -> Any:
        return dict(self.values)[name]

    def adding(self, **values: Any) -> "Fact":
        """The same with more parameters."""
        return Fact(self.reason, (*self.values, *values.items()))


def fact(reason: Reason, **values: Any) -> Fact:
    """The fact of this reason with these parameters."""
    return Fact(reason, tuple(values.items()))
