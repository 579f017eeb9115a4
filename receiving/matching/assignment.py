"""How well a partly read label fits a carton, and the one best assignment of such labels, with how far ahead it is.

The cost is in nats: 0 fits in all that is said, all else adds minus the logarithm of how often the thing happens. The
rates are set by hand and held against two stochastic models, tests/bench/shipment_model.py and
tests/bench/back_room_model.py; common practice, no source. Source of the assignment: the linear assignment problem,
solved exactly by scipy's `linear_sum_assignment` (Crouse 2016, "On implementing 2D rectangular assignment algorithms",
doi:10.1109/TAES.2016.140952).
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

from receiving.matching.catalogue import Catalogue
from receiving.matching.observations import Observation, text_reads
from receiving.model import Address, Carton, CartonKind, LabelRead, SizeClass

OVER_RATE = 0.005
"""A label in the pile is of no carton of the manifest: one in 200, before anything of this pile is known."""
OVER = -log(OVER_RATE)
LABELS_OF_PRIOR = 40.0
"""This many labels of the pile weigh as much as that rate: see `over_rate`."""
OVER_AS_OTHERS = -log(0.1)
"""The same where another carton of a shipment is here that also has one for the label's place: one in 10, asked for."""
DUPLICATE_OF_KNOWN = -log(0.02)
"""The open carton is missing, and the label is a known one, scanned before and now read in part: one in 50."""
SEEN_FROM_ASIDE = -log(0.1)
"""The same where photos show the known label, none of them beside this one: one in 10, so that it is asked for."""
SAME_LABEL = -log(0.5)
"""Two views of a torn label, or a torn label of a carton that a person has already named: even odds."""
NAMED_AS_OURS = -log(0.02)
"""A label that names this shipment or its store is all the same of no carton of it."""
WRONG_ADDRESS = -log(0.0001)
WRONG_CODE = -log(0.00001)
WRONG_NUMBER = -log(0.005)
WRONG_KIND = -log(0.01)
WRONG_SECTION = -log(0.002)
WRONG_ITEM = -log(0.05)
WRONG_COLUMN = -log(0.002)
NOT_OPEN_FIRST = -log(0.05)
TOO_EXPENSIVE = OVER + DUPLICATE_OF_KNOWN
"""A carton that fits worse than this is not a candidate."""
QUESTION_BELOW = log(20)
"""An answer less than 20 times as likely as the next best one is a question for a person."""

CAUTION_BY_EYE = log(5)
"""A size tells a label from a known carton seen again only where that is 100 times as likely; a tap is soon wrong."""

SHORTEST_PART = 4
"""Fewer characters of a code than this fit by chance."""
PART = re.compile(r"[0-9A-Za-z*?._/-]{4,40}")
WORD_GAP = re.compile(r"[\s,;:|]+")
POSITION = re.compile(
    r"(?:c(?:ol)?\.?\s*)?(\d{1,3})\s*[-/.,x]\s*(?:r(?:ow)?\.?\s*)?(\d{1,3})", re.IGNORECASE | re.ASCII
)
N_OF_TOTAL = re.compile(r"(\d{1,5})\s*/\s*(\d{1,5})", re.ASCII)
BARE_ID = re.compile(r"(?:#|no\.?)?\s*([0-9A-Za-z-]{1,20})", re.IGNORECASE | re.ASCII)


def over_rate(own: int, overs: int) -> float:
    """How often a label of this pile is another shipment's, from the labels that are known by a code.

    The mean of a beta distribution whose prior is `OVER_RATE` with the weight of forty labels.
    """
    return (overs + OVER_RATE * LABELS_OF_PRIOR) / (own + overs + LABELS_OF_PRIOR)


@dataclass(frozen=True)
class Statement:
    """What a partly read label says, besides whole codes.

    ``fitting`` are (cartons that fit one thing that it says, what it costs not to be among them); ``pointed`` are the
    cartons that something on it points to. ``items_only``: nothing but an item number points to them. ``shown`` says
    what it shows, for the sentence.
    """

    observation: Observation
    catalogue: Catalogue
    fitting: tuple[tuple[frozenset[str], float], ...]
    pointed: frozenset[str]
    kinds: frozenset[str]
    sections: frozenset[str]
    size: SizeClass | None
    open_first: bool
    has_part: bool
    items_only: bool
    shown: tuple[tuple[str, Any], ...]

    def cost(self, carton: Carton) -> float:
        """What must have gone wrong for this label to be this carton's, in nats; 0 when nothing must."""
        name = carton.carton
        nats = 0.0
        for names, cost in self.fitting:
            # Costs add up because the slips are taken to be independent; one that wipes out two things costs too much,
            # and asks.
            if name not in names:
                nats += cost
        if self.open_first and not carton.open_first:
            nats += NOT_OPEN_FIRST
        return nats + self._looks(carton)

    def _looks(self, carton: Carton) -> float:
        """The part of the cost that comes of its kind, section and size."""
        nats = kind_cost(self.kinds, carton) if self.kinds else 0.0
        if self.sections:
            own = [section.casefold() for section in carton.sections]
            # Only its beginning: on a torn label the rest of a section's name is gone.
            named = not own or any(section.startswith(tuple(self.sections)) for section in own)
            nats += 0.0 if named else WRONG_SECTION
        if self.size is not None:
            nats -= log(self.catalogue.sizes.chance(self.size, carton))
        return nats

    def candidates(self) -> tuple[tuple[str, float], ...]:
        """The cartons that something on the label points to, with their costs, sorted by id."""
        by_id = self.catalogue.by_id
        costs = [(name, self.cost(by_id[name])) for name in sorted(self.pointed)]
        # What costs more than being over and seen again at once would lose against both: leaving it out changes no
        # answer.
        return tuple([(name, nats) for name, nats in costs if nats <= TOO_EXPENSIVE])

    def of_its_kind(self) -> tuple[str, ...]:
        """The cartons of the kind that it names, within the section and of about the size that go with it, sorted."""
        if not self.kinds:
            return ()
        # Many torn labels say the same, and each would look at all cartons.
        same, by_id = (self.kinds, self.sections, self.size), self.catalogue.by_id
        if same not in self.catalogue.by_looks:
            fits = tuple(name for name in sorted(by_id) if self._looks(by_id[name]) < QUESTION_BELOW)
            self.catalogue.by_looks[same] = fits
        return self.catalogue.by_looks[same]


def statement(observation: Observation, catalogue: Catalogue) -> Statement:
    """What this label says of its carton, besides whole codes."""
    claims = observation.claims
    ids = dict.fromkeys(claim.carton for claim in claims if claim.carton)
    numbers = dict.fromkeys((claim.carton_n, claim.carton_total) for claim in claims if claim.carton_n is not None)
    columns = dict.fromkeys(claim.column for claim in claims if claim.column is not None and claim.address is None)
    texts, parts = _typed_texts(observation, catalogue)
    items = items_stated(observation, catalogue)
    size = observation.stated_size
    # "7 of 30" is no carton of a shipment of 24: such a number says nothing here.
    counted = [number for number, total in numbers if total in catalogue.totals]
    fitting = [
        *_fit(observation.addresses, catalogue.at, WRONG_ADDRESS),
        *_fit(ids, catalogue.with_typed_id if observation.typed else catalogue.with_id, WRONG_NUMBER),
        *_fit(counted, catalogue.with_number, WRONG_NUMBER),
        *_fit(columns, lambda column: catalogue.by_column.get(column, ()), WRONG_COLUMN),
        *((names, WRONG_CODE) for names in texts),
    ]
    by_item = list(_fit(items, lambda word: catalogue.items[word], WRONG_ITEM))
    pointed = frozenset().union(*(names for names, _ in (*fitting, *by_item)))
    kinds = kinds_stated(observation)
    return Statement(
        observation,
        catalogue,
        (*fitting, *by_item),
        pointed,
        kinds,
        frozenset([claim.section.casefold() for claim in claims if claim.section]),
        size,
        any(claim.open_first for claim in claims),
        bool(parts),
        bool(items) and not fitting,
        _shown(observation, catalogue, parts, sorted(items), kinds, size),
    )


def _fit(stated: Iterable[Any], cartons_of: Any, cost: float) -> Iterable[tuple[frozenset[str], float]]:
    """The cartons that one of these things fits, as one check; nothing where nothing is said."""
    things = list(stated)
    if things:
        yield frozenset(name for thing in things for name in cartons_of(thing)), cost


def _typed_texts(observation: Observation, catalogue: Catalogue) -> tuple[list[frozenset[str]], tuple[str, ...]]:
    """For each text in print the cartons that it may mean, and the texts that are a piece of a code.

    Only what a person typed or what was read from print counts: a symbol carries its whole code. A number may be a
    carton's, its place (as 3-2), or the end of a code: it means all of them, and where they differ it is asked.
    """
    found: list[frozenset[str]] = []
    parts: list[str] = []
    for text in dict.fromkeys(t for read in text_reads(observation) for t in _plain_text_of(read)):
        # A question mark or a star stands for what cannot be read, and proves nothing.
        codes = catalogue.with_part(text) if PART.fullmatch(text) and _legible(text) >= SHORTEST_PART else ()
        names = {name for code in codes for name in catalogue.codes[code]}
        parts += [text] if names else []
        if observation.typed:
            names |= set(_typed_id(text, catalogue)) | set(_typed_position(text, catalogue))
        if names:
            found.append(frozenset(names))
    return found, tuple(parts)


def _plain_text_of(read: LabelRead) -> tuple[str, ...]:
    """What was typed where no pattern and no code was found in it."""
    claim = read.claim
    return (
        ()
        if claim.sscc or claim.gtin or (claim.pattern and not claim.barcode)
        else (claim.barcode or read.raw.raw.strip(),)
    )


def _typed_id(text: str, catalogue: Catalogue) -> tuple[str, ...]:
    bare = BARE_ID.fullmatch(text)
    return catalogue.with_typed_id(bare[1]) if bare else ()


def _typed_position(text: str, catalogue: Catalogue) -> tuple[str, ...]:
    counted = N_OF_TOTAL.fullmatch(text)
    if counted and int(counted[2]) in catalogue.totals:
        return catalogue.with_number(int(counted[1]))
    place = POSITION.fullmatch(text)
    if place is None or not int(place[1]) or not int(place[2]):
        return ()
    return catalogue.at(Address("", int(place[1]), int(place[2])))


def items_stated(observation: Observation, catalogue: Catalogue) -> frozenset[str]:
    """The manifest's item numbers that the label names or shows in print, folded."""
    words = {claim.item.casefold() for claim in observation.claims if claim.item}
    words.update(word for read in text_reads(observation) for word in WORD_GAP.split(read.raw.raw.casefold()))
    return frozenset(words & catalogue.items.keys()) if words else frozenset()


def kinds_stated(observation: Observation) -> frozenset[str]:
    """The kinds that the label names, folded."""
    # casefold and not lower: the German ß and SS are one text, and so are the two small sigmas of Greek.
    kinds = [claim.kind.casefold() for claim in observation.claims if claim.kind]
    return frozenset([*kinds, *(CartonKind.OUTER.value for claim in observation.claims if claim.outer)])


def kind_cost(kinds: frozenset[str], carton: Carton) -> float:
    """What it costs that the label names these kinds."""
    return WRONG_KIND if kinds and not kinds & {carton.kind.value, carton.kind.printed} else 0.0


def has_parts(observation: Observation, catalogue: Catalogue) -> bool:
    """It shows a piece of a code, or an item number."""
    return bool(_typed_texts(observation, catalogue)[0] or items_stated(observation, catalogue))


def _shown(
    observation: Observation,
    catalogue: Catalogue,
    parts: tuple[str, ...],
    items: list[str],
    kinds: frozenset[str],
    size: SizeClass | None,
) -> tuple[tuple[str, Any], ...]:
    """What the label shows, for a sentence: the strongest thing on it, and the size where sizes tell cartons apart."""
    tells = size is not None and size in catalogue.sizes.classes
    shown = _strongest(observation, parts, items, kinds)
    return (*shown, ("size", size.value)) if tells and size is not None else shown


def _strongest(
    observation: Observation, parts: tuple[str, ...], items: list[str], kinds: frozenset[str]
) -> tuple[tuple[str, Any], ...]:
    claims = observation.claims
    number = next(((c.carton_n, c.carton_total) for c in claims if c.carton_n is not None), None)
    column = next((claim.column for claim in claims if claim.column is not None), None)
    ids = observation.values("carton")
    if observation.addresses:
        return (("shown", "address"), ("what", observation.addresses[0]))
    if parts:
        return (("shown", "part"), ("what", parts[0]))
    if ids:
        return (("shown", "id"), ("what", ids[0]))
    if number is not None:
        return (("shown", "number"), ("what", number))
    if items:
        return (("shown", "item"), ("what", items[0].upper()))
    if column is not None:
        return (("shown", "column"), ("what", column))
    if kinds:
        return (("shown", "kind"), ("what", next(iter(observation.values("kind")), CartonKind.OUTER)))
    return (("shown", "text"), ("what", raw_text(observation)))


def raw_text(observation: Observation) -> str:
    """The text of the read that says most: with an SSCC, with another code, or the first."""
    for name in ("sscc", "barcode", "gtin", "address"):
        for read in observation.reads:
            if getattr(read.claim, name):
                return read.raw.raw
    return observation.reads[0].raw.raw


def _legible(part: str) -> int:
    return sum(c not in "*?" for c in part)


NEVER = 1e6
"""The cost of what cannot be; far above any sum of possible costs."""


@dataclass(frozen=True)
class Row:
    """One label: what it costs to be each open carton, to be a known carton again, to be none.

    ``shared`` are cartons that it may be beside another label (a second view, or a carton already known). ``caution``
    is how much farther ahead, in nats, its answer must be than that of other labels.
    """

    own: tuple[tuple[str, float], ...]
    shared: tuple[tuple[str, float], ...]
    none: float
    caution: float = 0.0


@dataclass(frozen=True)
class Choice:
    """What a label is: a carton, or none (empty); ``again`` where another label shows the same carton.

    ``gap_nats`` is how much more expensive, in nats, the best assignment gets when this label is not that carton;
    ``rivals`` are the cartons, or empty for none, that cost less than ``question_below`` more than the best.
    """

    carton: str
    again: bool
    gap_nats: float
    rivals: tuple[str, ...] = ()


def assign(rows: Sequence[Row], question_below: float) -> tuple[Choice, ...]:
    """The choice for each row: each open carton to at most one row, the sum of costs least."""
    choices: list[Choice | None] = [None] * len(rows)
    # The solver takes time with the cube of the rows; labels that share no carton are solved apart, most of them alone.
    for part in _components(rows):
        found = (
            [_alone(rows[part[0]], question_below)]
            if len(part) == 1
            else _together([rows[n] for n in part], question_below)
        )
        for n, choice in zip(part, found, strict=True):
            choices[n] = choice
    return tuple(choice for choice in choices if choice is not None)


def least_cost(costs: Sequence[Sequence[float]]) -> tuple[tuple[int, ...], float]:
    """The column of each row in the assignment of least sum, and the sum; at least as many columns as rows.

    >>> least_cost([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    ((1, 0, 2), 5.0)
    """
    import numpy
    from scipy.optimize import linear_sum_assignment

    # Rectangular on purpose: there are more columns than rows, and those that no row takes cost nothing.
    matrix = numpy.asarray(costs, dtype=float)
    rows, columns = linear_sum_assignment(matrix)
    return tuple(int(c) for c in columns), float(matrix[rows, columns].sum())


def _alone(row: Row, question_below: float) -> Choice:
    """A label that competes with no other needs no solver."""
    options = sorted(_options(row), key=lambda option: option[0])
    best_cost, carton, again = options[0]
    # By name and not by option: that the same carton is seen again is not another answer to "which carton?".
    others = [(cost, name) for cost, name, _ in options if name != carton]
    gap_nats = min((cost for cost, _ in others), default=NEVER) - best_cost
    rivals = tuple(dict.fromkeys(name for cost, name in others if cost - best_cost < question_below + row.caution))
    return Choice(carton, again, gap_nats, rivals)


def _options(row: Row) -> list[tuple[float, str, bool]]:
    own = [(cost, carton, False) for carton, cost in row.own]
    shared = [(cost, carton, True) for carton, cost in row.shared]
    return [*own, *shared, (row.none, "", False)]


def _together(rows: Sequence[Row], question_below: float) -> list[Choice]:
    """Columns: each open carton once, then for each row a private one for the cheapest of being shared or none."""
    # In the order of the rows, not of a set: hashes of texts differ between runs, and ties would fall differently.
    cartons = list(dict.fromkeys(carton for row in rows for carton, _ in row.own))
    place = {carton: n for n, carton in enumerate(cartons)}
    # A private column makes room for none: the solver must give each row a column, and so no carton is forced on one.
    costs = [[NEVER] * (len(cartons) + len(rows)) for _ in rows]
    for n, row in enumerate(rows):
        for carton, nats in row.own:
            costs[n][place[carton]] = nats
        costs[n][len(cartons) + n] = _cheapest_private(row)[0]
    chosen, total = least_cost(costs)
    names = [cartons[c] if c < len(cartons) else _cheapest_private(rows[n])[1] for n, c in enumerate(chosen)]
    return [
        _judged(
            names[n],
            chosen[n] >= len(cartons) and bool(names[n]),
            _distances(costs, cartons, rows, n, total),
            question_below + rows[n].caution,
        )
        for n in range(len(rows))
    ]


def _cheapest_private(row: Row) -> tuple[float, str]:
    """What a row can be whatever the other rows are: a carton that another label shows, or none (empty)."""
    return min([(nats, carton) for carton, nats in row.shared] + [(row.none, "")])


def _distances(
    costs: Sequence[Sequence[float]], cartons: Sequence[str], rows: Sequence[Row], n: int, total: float
) -> dict[str, float]:
    """How much the least sum grows when row ``n`` is forced to each of its answers; without it, the rest is free."""
    # Forced to an answer, the others may change theirs too: so the sum is solved anew, not read off this row.
    others = [line for m, line in enumerate(costs) if m != n]
    rest = least_cost(others)[1]
    distance = {"": rest + rows[n].none - total}
    for carton, nats in rows[n].shared:
        distance[carton] = rest + nats - total
    for carton, nats in rows[n].own:
        taken = cartons.index(carton)
        without = least_cost([[*line[:taken], *line[taken + 1 :]] for line in others])[1]
        distance[carton] = min(distance.get(carton, NEVER), without + nats - total)
    return distance


def _judged(carton: str, again: bool, distance: dict[str, float], question_below: float) -> Choice:
    others = {name: far for name, far in distance.items() if name != carton}
    rivals = tuple(
        sorted((name for name, far in others.items() if far < question_below), key=lambda name: (others[name], name))
    )
    return Choice(carton, again, min(others.values(), default=NEVER), rivals)


def _components(rows: Sequence[Row]) -> list[list[int]]:
    """The rows grouped so that no two groups want one carton; each group solved by itself is solved exactly."""
    group_of: dict[str, list[int]] = {}
    groups: dict[int, list[int]] = {}
    for n, row in enumerate(rows):
        mine = [n]
        for carton, _ in row.own:
            joined = group_of.get(carton)
            if joined is not None and joined is not mine:
                mine.extend(m for m in joined if m not in mine)
                for name in [name for name, group in group_of.items() if group is joined]:
                    group_of[name] = mine
            group_of[carton] = mine
        for m in mine:
            groups[m] = mine
    unique = {id(group): sorted(group) for group in groups.values()}
    return sorted(unique.values())
