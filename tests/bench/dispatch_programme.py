"""A programme of visits simulated day by day, with and without the advice, on the same random numbers.

    python tests/bench/dispatch_programme.py --stores 5000 --seeds 17 18 19 20 21

Each store gets one shipment and one visit. Cartons are late or lost; stores count or do not; orders take their lead
time or longer. The ways of working see the same fates: "blind" sends every rep on the planned day and orders what is
missing then; "order all" orders whatever a count misses, at once, and never holds; "advice" does what
`receiving.dispatch` says, once with orders on the last day that helps, once at once. A visit fails when not all can be
set; it is wasted when nothing can, because the parts of the section are missing. All rates are assumed (no source):
they are arguments, so that anybody can try his own.

Each seed is a world of its own, which all ways of working meet (common random numbers). Means over the seeds stand with
their 95 % intervals by Student's t over seeds, differences by the pairs of each seed. "cost" is in the costs that the
advice weighs; "other cost" is a table that it does not know: a waiting day three times as dear, and something for each
order, each order that was needless, and each visit that was moved.
"""

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time
from functools import partial
from pathlib import Path
from random import Random
from statistics import fmean, stdev

import simpy
from scipy.stats import t

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving.dispatch import (  # noqa: E402
    Costs,
    MissingCarton,
    OptionKind,
    OrderStatus,
    ShipmentRow,
    StoreDay,
    StoreTerms,
    Wait,
    WorkingCalendar,
    decide,
    learn,
    options,
    order_status,
)
from receiving.model import FollowUp, ShortageFollowed  # noqa: E402
from receiving.service.stores import working_calendar  # noqa: E402

START = date(2026, 1, 5)
CARTONS, POSITIONS_A_CARTON = 20, 2
PARTS = 0
"""The carton that the whole section waits for."""
HORIZON_DAYS = 200
NOON = datetime(2026, 1, 5, 12, tzinfo=UTC)
OFFICE_OPENS = time(9)
OTHER_PRICES = {"visits": 1.0, "waited": 0.3, "orders": 0.05, "needless": 0.1, "moved": 0.15}
"""What things cost in visits by the other table; assumed, no source."""


@dataclass(frozen=True)
class Fate:
    """What happens to one store, whatever is done: the same for every way of working.

    ``arrives`` gives by carton the working days from the first day on which it is there, None where it is lost;
    ``order_takes`` how many working days beyond the lead time an order for it takes.
    """

    visit: int
    counted: int | None
    answers: bool
    arrives: tuple[int | None, ...]
    order_takes: tuple[int, ...]


@dataclass
class Outcome:
    """What a way of working came to at one store."""

    visits: int = 0
    failed: int = 0
    wasted: int = 0
    orders: int = 0
    needless: int = 0
    waited: float = 0.0
    moved: int = 0

    @property
    def cost(self) -> float:
        """In visits: those that were made, and what the sections waited."""
        return self.visits * Costs().second_visit + self.waited * Costs().day

    @property
    def other_cost(self) -> float:
        """In visits, by prices that the advice does not know."""
        paid = {"visits": self.visits, "waited": self.waited, "orders": self.orders, "needless": self.needless}
        return sum(OTHER_PRICES[name] * number for name, number in {**paid, "moved": self.moved}.items())


@dataclass
class Context:
    """One way of working over the whole programme."""

    calendar: WorkingCalendar
    terms: StoreTerms
    costs: Costs
    acts: Callable[["Context", "Case", int], None]
    past: list[ShipmentRow] = field(default_factory=list)

    def day(self, n: int) -> date:
        return self.calendar.add(START, n)

    def number(self, day: date) -> int:
        return self.calendar.between(START, self.calendar.on_or_after(day))


@dataclass
class Case:
    """One store as it stands: when it is visited, what is known to be missing, what was ordered and when that comes."""

    fate: Fate
    visit: int
    outcome: Outcome = field(default_factory=Outcome)
    counted: bool = False
    counted_on: int = 0
    first_missing: frozenset[int] = frozenset()
    ordered: dict[int, int] = field(default_factory=dict)
    promised: dict[int, int] = field(default_factory=dict)
    done: bool = False

    def here(self, carton: int, now: int) -> bool:
        own = self.fate.arrives[carton]
        return (own is not None and own < now) or self.ordered.get(carton, now) < now

    def missing(self, now: int) -> list[int]:
        return [carton for carton in range(CARTONS) if not self.here(carton, now)]

    def order(self, ctx: Context, carton: int, now: int) -> None:
        if carton not in self.ordered:
            self.outcome.orders += 1
            self.promised[carton] = now + ctx.terms.lead_days
            self.ordered[carton] = self.promised[carton] + self.fate.order_takes[carton]


def fates(stores: int, random: Random, rates: argparse.Namespace) -> list[Fate]:
    return [_fate(random, rates) for _ in range(stores)]


def _fate(random: Random, rates: argparse.Namespace) -> Fate:
    visit = random.randint(15, 60)
    counted = visit - random.randint(5, 8) if random.random() < rates.counted else None
    arrives = tuple(_arrival(random, visit, rates) for _ in range(CARTONS))
    takes = tuple(random.randint(1, 3) if random.random() < rates.slow else 0 for _ in range(CARTONS))
    return Fate(visit, counted, random.random() < rates.answers, arrives, takes)


def _arrival(random: Random, visit: int, rates: argparse.Namespace) -> int | None:
    draw = random.random()
    if draw < rates.lost:
        return None
    return visit - 9 + (random.randint(1, 14) if draw < rates.lost + rates.late else 0)


def blind(ctx: Context, case: Case, now: int) -> None:
    """Nobody looks before the visit."""


def order_all(ctx: Context, case: Case, now: int) -> None:
    """Whatever a count misses is ordered at once; the visit stays where it is."""
    if case.counted:
        for carton in case.missing(now):
            case.order(ctx, carton, now)


def advised(ctx: Context, case: Case, now: int, *, at_once: bool) -> None:
    """What the advice says: call who has not counted, order while that helps, hold where that is cheaper."""
    if not case.counted:
        if now == case.visit - 4 and case.fate.answers:
            count(case, now)
        return
    day = StoreDay(ctx.day(now), OFFICE_OPENS, ctx.calendar)
    decided = decide(row_of(ctx, case, now), day)
    for outlook in decided.outlooks:
        status = order_status(outlook, decided)
        if status is not OrderStatus.NOT_NEEDED and (at_once or status is not OrderStatus.ORDER_BY):
            case.order(ctx, int(outlook.missing.carton), now)
    if now == case.visit - 1:
        decided = decide(row_of(ctx, case, now), day)
        choices = options(decided, day, learn(ctx.past, day.today, decided.days_to_visit or 0), ctx.costs)
        if choices and choices[0].kind is OptionKind.HOLD and choices[0].until:
            later = max(case.visit, ctx.number(choices[0].until))
            case.outcome.moved += later > case.visit
            case.visit = later


def row_of(ctx: Context, case: Case, now: int) -> ShipmentRow:
    missing = case.missing(now)
    visit = ctx.day(case.visit)
    return ShipmentRow(
        shipment="S",
        store="0001",
        planned_visit=visit,
        expected=CARTONS,
        here=CARTONS - len(missing),
        inside=0,
        missing=len(missing),
        extra=0,
        questions=0,
        damaged=0,
        revision=1,
        last_read_at=None,
        confirmed=True,
        followed=tuple(_missing(ctx, case, carton, now) for carton in missing),
        positions=CARTONS * POSITIONS_A_CARTON,
        settable=(CARTONS - len(missing)) * POSITIONS_A_CARTON,
        terms=ctx.terms,
    )


def _missing(ctx: Context, case: Case, carton: int, now: int) -> MissingCarton:
    """An order is due when it was promised; one that is over its day is chased, and its new day is known."""
    followed = None
    if carton in case.ordered:
        due = case.promised[carton] if now <= case.promised[carton] else case.ordered[carton]
        followed = ShortageFollowed("n", NOON, "ctx", f"{carton:02d}", FollowUp.SENT_AGAIN, ctx.day(due))
    positions = 0 if carton == PARTS else POSITIONS_A_CARTON
    return MissingCarton(f"{carton:02d}", followed, positions=positions, whole_section=carton == PARTS)


def count(case: Case, now: int) -> None:
    case.counted, case.counted_on = True, now
    case.first_missing = frozenset(case.missing(now))


def store_process(env: simpy.Environment, ctx: Context, case: Case) -> Iterator[simpy.Event]:
    """One store, a working day at a time: the morning's count and decisions, then the visit where it is due."""
    while not case.done:
        now = int(env.now)
        if not case.counted and case.fate.counted == now:
            count(case, now)
        if now < case.visit:
            ctx.acts(ctx, case, now)
        else:
            visit(ctx, case, now)
        yield env.timeout(1)


def visit(ctx: Context, case: Case, now: int) -> None:
    missing = case.missing(now)
    out = case.outcome
    out.visits += 1
    if out.visits == 1:
        out.waited = now - case.fate.visit
        ctx.past.append(_remembered(ctx, case))
    if not missing:
        finish(case, now)
        return
    out.failed += 1
    out.wasted += PARTS in missing
    for carton in missing:
        case.order(ctx, carton, now)
    until = max(min(case.ordered[c], case.fate.arrives[c] or HORIZON_DAYS) for c in missing) + 1
    out.waited += (until - now) * len(missing) / CARTONS
    case.visit = until


def _remembered(ctx: Context, case: Case) -> ShipmentRow:
    """What a count missed and nobody ordered, as it would be learned from."""
    on = ctx.day(case.visit)
    waits = tuple(
        Wait((on - ctx.day(case.counted_on)).days, (on - ctx.day(own)).days if own is not None else None)
        for own in (case.fate.arrives[carton] for carton in case.first_missing if carton not in case.ordered)
    )
    return replace(row_of(ctx, case, case.visit), waits=waits)


def finish(case: Case, now: int) -> None:
    case.done = True
    own = case.fate.arrives
    case.outcome.needless += sum((own[c] or HORIZON_DAYS) < case.visit for c in case.ordered if own[c] is not None)


def run(ctx: Context, world: list[Fate]) -> list[Outcome]:
    env = simpy.Environment()
    cases = [Case(fate, fate.visit) for fate in world]
    for case in cases:
        env.process(store_process(env, ctx, case))
    env.run(until=HORIZON_DAYS)
    assert all(case.done for case in cases), "a store was never finished"
    return [case.outcome for case in cases]


WAYS: tuple[tuple[str, Callable[[Context, Case, int], None]], ...] = (
    ("blind", blind),
    ("order all", order_all),
    ("advice, late orders", partial(advised, at_once=False)),
    ("advice, at once", partial(advised, at_once=True)),
)


NAMES = ("failed", "wasted", "visits", "orders", "needless", "moved", "waited", "cost", "other_cost")


def with_interval(values: list[float]) -> str:
    """The mean over the seeds and its 95 % interval."""
    if len(values) < 2:
        return f"{values[0]:7.1f}"
    half = t.ppf(0.975, len(values) - 1) * stdev(values) / len(values) ** 0.5
    return f"{fmean(values):7.1f} ± {half:5.1f}"


def per_thousand(outcomes: list[Outcome]) -> dict[str, float]:
    return {name: 1000 * fmean(float(getattr(each, name)) for each in outcomes) for name in NAMES}


def show(found: dict[str, list[dict[str, float]]]) -> None:
    print(f"{'':30}" + "".join(f"{name.replace('_', ' '):>17}" for name in NAMES))
    for way, worlds in found.items():
        print(f"{way:30}" + "".join(f"{with_interval([world[n] for world in worlds]):>17}" for n in NAMES))
    for way in ("advice, late orders", "advice, at once"):
        for other in ("blind", "order all"):
            pairs = list(zip(found[way], found[other], strict=True))
            differences = {n: [own[n] - theirs[n] for own, theirs in pairs] for n in NAMES}
            print(f"{f'{way}, less {other}':30}" + "".join(f"{with_interval(differences[n]):>17}" for n in NAMES))


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--stores", type=int, default=5000)
    ask.add_argument("--seeds", type=int, nargs="+", default=[17, 18, 19, 20, 21])
    ask.add_argument("--late", type=float, default=0.03, help="share of cartons that come 1 to 14 working days late")
    ask.add_argument("--lost", type=float, default=0.01, help="share of cartons that never come")
    ask.add_argument("--counted", type=float, default=0.7, help="share of stores that count 5 to 8 days before")
    ask.add_argument("--answers", type=float, default=0.8, help="share of the others that count when they are called")
    ask.add_argument("--slow", type=float, default=0.15, help="share of orders that take 1 to 3 days longer")
    ask.add_argument("--lead", type=int, default=4, help="working days of an order")
    given = ask.parse_args()
    terms = StoreTerms(country="US", lead_days=given.lead, lead_assumed=False)
    calendar = working_calendar("US", "", START.year)
    found: dict[str, list[dict[str, float]]] = {name: [] for name, _ in WAYS}
    for seed in given.seeds:
        world = fates(given.stores, Random(seed), given)
        for name, acts in WAYS:
            found[name].append(per_thousand(run(Context(calendar, terms, Costs(), acts), world)))
    print(f"{given.stores} stores in each of {len(given.seeds)} worlds (seeds {', '.join(map(str, given.seeds))}),")
    print("per 1,000 stores with 95 % intervals; waited: working days of a whole section; costs in visits")
    show(found)


if __name__ == "__main__":
    main()
