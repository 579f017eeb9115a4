"""The ledger of a shipment while its labels are resolved: who is here by what, what is asked, which notes count."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import log
from typing import Any, TypeVar

from receiving.matching.catalogue import Catalogue
from receiving.matching.judgements import Matched, OverLabel, Reason, UnclearLabel
from receiving.matching.likelihood import over_rate
from receiving.matching.observations import Observation
from receiving.model import Carton, Fact, How, Note, OtherShipment, Source, fact
from receiving.model import notes_in_force as notes_in_force

MOST_CHOICES = 6
"""A question with more answers than a person looks through is none."""


@dataclass(frozen=True)
class OpenQuestion:
    """Looks at one label that a person must place; the missing cartons that it may be, and those seen again.

    ``elsewhere`` are the cartons of other shipments that it may be as well.
    """

    observations: tuple[Observation, ...]
    cartons: tuple[str, ...]
    again: tuple[str, ...]
    why: Fact
    elsewhere: tuple[Carton, ...] = ()


@dataclass(frozen=True)
class DuplicateObservation:
    """An observation that needs no carton: all that it fits are here anyway."""

    observation: Observation
    why: Fact


@dataclass
class Ledger:
    """Who is here by what so far, while the rest is resolved."""

    catalogue: Catalogue
    matched: dict[str, list[Matched]] = field(default_factory=dict)
    confirmed: frozenset[str] = frozenset()
    shipments_seen: frozenset[str] = frozenset()
    looks_like: OtherShipment | None = None
    overs_known: int = 0
    open_questions: list[OpenQuestion] = field(default_factory=list)
    duplicates: list[DuplicateObservation] = field(default_factory=list)
    overs: list[OverLabel] = field(default_factory=list)
    unclear: list[UnclearLabel] = field(default_factory=list)
    _own_label: dict[str, bool] = field(default_factory=dict)
    _missing: dict[int, tuple[tuple[str, ...], tuple[str, ...]]] = field(default_factory=dict)

    def of(self, carton: str) -> Sequence[Matched]:
        """What shows this carton."""
        return self.matched.get(carton, ())

    def is_here(self, carton: str) -> bool:
        """Something shows this carton, or a person confirms it."""
        return carton in self.matched or carton in self.confirmed

    def by_own_label(self, carton: str) -> bool:
        """A machine read this carton's own code, so that its label is whole; a torn label is then another's."""
        known = self._own_label.get(carton)
        if known is None:
            known = self._own_label[carton] = any(_shows_whole_label(found) for found in self.of(carton))
        return known

    def missing(self, cartons: tuple[str, ...]) -> tuple[str, ...]:
        """Those of the cartons that nothing shows."""
        if len(cartons) <= MOST_CHOICES:
            return tuple([c for c in cartons if not self.is_here(c)])
        known = self._missing.get(id(cartons))
        if known is None or known[0] is not cartons:
            known = self._missing[id(cartons)] = (cartons, tuple([c for c in cartons if not self.is_here(c)]))
        return known[1]

    def here(self, cartons: Iterable[str]) -> tuple[str, ...]:
        """Those of the cartons that are here."""
        return tuple(c for c in cartons if self.is_here(c))

    def add(self, found: Matched) -> None:
        """Record that this observation is that carton."""
        self._own_label.pop(found.carton, None)
        if found.carton not in self.matched:
            self._missing.clear()
        self.matched.setdefault(found.carton, []).append(found)

    @property
    def over_cost(self) -> float:
        """What it costs that a label is of no carton of this shipment, by what is known of this pile."""
        return -log(over_rate(len(self.matched), self.overs_known))


def _shows_whole_label(found: Matched) -> bool:
    reads = [r for r in found.observation.reads if r.claim.sscc or r.claim.barcode or r.claim.carton]
    machine = any(r.raw.source is not Source.TYPED and not r.raw.guided for r in reads)
    return machine and not found.by_person and found.how is not How.ADDRESS


def add_question(
    ledger: Ledger,
    observations: Sequence[Observation],
    cartons: tuple[str, ...],
    shown: tuple[tuple[str, Any], ...],
    why: Fact,
    again: tuple[str, ...] = (),
    elsewhere: tuple[Carton, ...] = (),
) -> None:
    """Ask, or say that it is unclear where a person would have to look through too many cartons."""
    if len(cartons) > MOST_CHOICES:
        many = fits_fact(Reason.FITS_TOO_MANY, shown, count=len(cartons))
        ledger.unclear.extend(UnclearLabel(observation, many) for observation in observations)
        return
    again = again if len(again) <= MOST_CHOICES else ()
    ledger.open_questions.append(OpenQuestion(tuple(observations), cartons, again, why, elsewhere))


def fits_fact(reason: Reason, shown: tuple[tuple[str, Any], ...], **values: Any) -> Fact:
    """The fact of this reason, with what the label shows."""
    return fact(reason, **dict(shown), **values)


# Notes by their kind, and those that count.


__all__ = ["notes_in_force", "of_kind"]

N = TypeVar("N", bound=Note)


def of_kind(notes: Iterable[Note], kind: type[N]) -> tuple[N, ...]:
    """The notes of one kind, in the order given."""
    return tuple(note for note in notes if isinstance(note, kind))
