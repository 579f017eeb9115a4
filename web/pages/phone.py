"""What a phone holds for the time without a signal: a shipment as JSON, and what it did that still waits on it.

The JSON is what the phone's own matching looks at and says. The frame of what waits is filled by the phone, since only
it knows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from receiving.messages import Text, message
from receiving.model import CartonFinding, CartonState
from receiving.service import PhoneSheet, ScannerProfile
from receiving.wording import term
from web.pages.lifting import caution_of
from web.pages.words import where_words
from web.speech import say, speaker


def sheet_json(sheet: PhoneSheet, pages: Sequence[str], scanner: ScannerProfile) -> dict[str, Any]:
    """The sheet as plain values; ``pages`` are the addresses to put on the phone, the most needed first.

    ``scanner`` is what this browser's scanner was found to do to a label's text.
    """
    return {
        "shipment": sheet.shipment,
        "store": sheet.store,
        "version": sheet.version,
        "language": speaker().code,
        "pages": list(pages),
        "codes": dict(sheet.codes),
        "typed": dict(sheet.typed),
        "scanner": vars(scanner),
        "cartons": {finding.carton.carton: _carton(finding, sheet.bays) for finding in sheet.cartons},
    }


def _carton(finding: CartonFinding, bays: Mapping[str, str]) -> dict[str, Any]:
    carton = finding.carton
    return {
        "kind": say(term(carton.kind)),
        "where": say(where_words(carton)),
        "bay": bays.get(carton.carton, ""),
        "first": carton.open_first,
        "here": finding.state is CartonState.RECEIVED,
        "care": say(caution.whole) if (caution := caution_of(finding)) else "",
    }


@dataclass(frozen=True)
class OutboxPage:
    """The list of this phone's actions."""

    template: ClassVar[str] = "outbox.html"

    title: ClassVar[Text] = message("On this phone")


@dataclass(frozen=True)
class NoSignalPage:
    """A page that a phone does not hold, while there is no signal."""

    template: ClassVar[str] = "no_signal.html"

    title: ClassVar[Text] = message("No signal")
