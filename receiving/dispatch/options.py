"""What can be done about a visit, what each choice is expected to cost, and how often a missing carton turned up.

Costs are in visits: one is what a second visit costs. Every figure of an `Option` is there to be shown.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from receiving.dispatch.calendar import StoreDay
from receiving.dispatch.deciding import CartonOutlook, CartonStatus, DispatchRow
from receiving.dispatch.rows import ShipmentRow, Wait, Weight
from receiving.dispatch.swaps import Swap

# How often a missing carton turned up before: counted, never invented.


PRIOR = (0.5, 0.5)
"""Jeffreys' prior for a share, Beta(1/2, 1/2): H. Jeffreys, Proc. R. Soc. A 186 (1946), doi:10.1098/rspa.1946.0056."""
FEWEST_CASES = 5
"""With fewer cases no chance is stated: the prior would say more than the cases."""


@dataclass(frozen=True)
class Chance:
    """Of ``cases`` cartons that were missing as many days before their visit ``turned_up`` did so before it."""

    turned_up: int
    cases: int

    @property
    def known(self) -> bool:
        """True when there are enough cases to state a chance."""
        return self.cases >= FEWEST_CASES

    @property
    def mean(self) -> float:
        """The posterior mean of the share; the beta-binomial chance that the next one turns up."""
        a, b = PRIOR
        return (a + self.turned_up) / (a + b + self.cases)

    @property
    def interval(self) -> tuple[float, float]:
        """The 90 % credible interval of the share, equal tails of the posterior."""
        from scipy.stats import beta

        a, b = PRIOR
        posterior = beta(a + self.turned_up, b + self.cases - self.turned_up)
        return float(posterior.ppf(0.05)), float(posterior.ppf(0.95))

    def all_of(self, cartons: int) -> float:
        """The chance that ``cartons`` more all turn up, by the beta-binomial: they share the unknown share."""
        a, b = PRIOR
        chance = 1.0
        for n in range(cartons):
            chance *= (a + self.turned_up + n) / (a + b + self.cases + n)
        return chance


def learn(rows: Iterable[ShipmentRow], today: date, days_left: int) -> Chance:
    """The chance from the visits that are over: of the cartons missing this many days before, those found in time.

    A carton that is missing the evening before a visit turns up less often than one a week before: only cases with as
    many days left count.
    """
    over = [row for row in rows if row.visit_date is not None and row.visit_date < today]
    waits = [wait for row in over for wait in row.waits if _was_missing(wait, days_left)]
    return Chance(sum(wait.found is not None and wait.found > 0 for wait in waits), len(waits))


def _was_missing(wait: Wait, days_left: int) -> bool:
    return wait.counted >= days_left and (wait.found is None or wait.found < days_left)


class OrderStatus(StrEnum):
    """Whether an order for a missing carton still helps the visit."""

    NOT_NEEDED = "not_needed"
    ORDER_BY = "order_by"
    ORDER_TODAY = "order_today"
    TOO_LATE = "too_late"


class OptionKind(StrEnum):
    """What can be done about a visit."""

    GO = "go"
    GO_AND_SET = "go_and_set"
    HOLD = "hold"
    SWAP = "swap"


@dataclass(frozen=True)
class Costs:
    """What a choice costs, in visits. Assumed until somebody says otherwise: common practice, no source.

    ``second_visit``: to come again. ``day``: a whole section that is not set for one working day. ``swap``: to bring
    one carton from another store.
    """

    second_visit: float = 1.0
    day: float = 0.1
    swap: float = 0.25


@dataclass(frozen=True)
class Option:
    """One choice. ``share`` of the positions can be set on the visit; with ``second_visit`` chance another is needed.

    ``until`` is the day of a visit that is held, or of the second one; ``days`` are the working days that it waits.
    ``late`` are the cartons that will not be there in time, ``brought`` those that come from another store.
    """

    kind: OptionKind
    cost: float
    share: float
    second_visit: float
    days: int
    until: date | None = None
    late: tuple[str, ...] = ()
    brought: tuple[tuple[str, str], ...] = ()


def order_status(outlook: CartonOutlook, decided: DispatchRow) -> OrderStatus:
    """Whether this carton still has to be ordered, and until when that helps."""
    latest, ordered = decided.latest_order, decided.order_day
    if outlook.resolved or latest is None or ordered is None:
        return OrderStatus.NOT_NEEDED
    if ordered > latest:
        return OrderStatus.TOO_LATE
    return OrderStatus.ORDER_TODAY if ordered == latest else OrderStatus.ORDER_BY


def options(
    decided: DispatchRow,
    day: StoreDay,
    chance: Chance,
    costs: Costs,
    swaps: Mapping[str, Swap] | None = None,
) -> tuple[Option, ...]:
    """The choices for a visit to come, the cheapest first; empty where nothing is open.

    What is not ordered yet is taken to be ordered now. ``swaps`` gives by carton what another store can spare.
    """
    visit = decided.row.visit_date
    if visit is None or visit < day.today or not decided.row.short or not decided.row.looked_at:
        return ()
    late = late_cartons(decided, day)
    if not late:
        return (Option(OptionKind.GO, 0.0, 1.0, 0.0, 0),)
    found = [_go_and_set(decided, late, day, chance, costs), _hold(late, day, visit, costs)]
    brought = {carton: swap for carton, swap in (swaps or {}).items() if carton in late and swap.arrives < visit}
    if set(brought) == set(late):
        pairs = tuple((carton, swap.spare.store) for carton, swap in sorted(brought.items()))
        cost = sum(swap.cost for swap in brought.values())
        found.append(Option(OptionKind.SWAP, cost, 1.0, 0.0, 0, brought=pairs))
    return tuple(sorted(found, key=lambda option: (option.cost, option.kind)))


def late_cartons(decided: DispatchRow, day: StoreDay) -> dict[str, date]:
    """The cartons that something waits for and that will not be there before the visit, each with its day.

    What is not ordered yet is taken to be ordered now.
    """
    late: dict[str, date] = {}
    visit = decided.row.visit_date
    for each in decided.outlooks if visit is not None else ():
        if each.missing.weight is Weight.NOTHING or _is_here_in_time(each):
            continue
        coming = each.arrives if each.status is CartonStatus.COMING_LATE else None
        arrives = coming or day.arrival_of_an_order(decided.row.terms)
        if visit is not None and arrives >= visit:
            late[each.missing.carton] = arrives
    return late


def _is_here_in_time(outlook: CartonOutlook) -> bool:
    """A carton that the rep goes without is still not there; all else that is settled is."""
    return outlook.status in (CartonStatus.COMING_IN_TIME, CartonStatus.DONE_WITHOUT, CartonStatus.REPLACED)


def _go_and_set(decided: DispatchRow, late: Mapping[str, date], day: StoreDay, chance: Chance, costs: Costs) -> Option:
    visit = decided.row.visit_date or day.today
    again = _day_after(max(late.values()), day)
    days = day.calendar.between(visit, again)
    share = _share_without(decided, late)
    needed = 1.0 - (chance.all_of(len(late)) if chance.known else 0.0)
    cost = needed * (costs.second_visit + costs.day * (1.0 - share) * days)
    return Option(OptionKind.GO_AND_SET, cost, share, needed, days, again, tuple(sorted(late)))


def _hold(late: Mapping[str, date], day: StoreDay, visit: date, costs: Costs) -> Option:
    until = _day_after(max(late.values()), day)
    days = day.calendar.between(visit, until)
    return Option(OptionKind.HOLD, costs.day * days, 1.0, 0.0, days, until, tuple(sorted(late)))


def _day_after(arrival: date, day: StoreDay) -> date:
    return day.calendar.on_or_after(arrival + timedelta(days=1))


def _share_without(decided: DispatchRow, late: Mapping[str, date]) -> float:
    """The share of positions that can be set when all but the late cartons are here."""
    missing = [each.missing for each in decided.outlooks if each.missing.carton in late]
    if any(each.whole_section for each in missing) or not decided.row.positions:
        return 0.0
    waiting = min(decided.row.positions, sum(each.positions for each in missing))
    return 1.0 - waiting / decided.row.positions
