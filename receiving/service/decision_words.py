"""The choices for a visit in words, each figure with its reasons."""

from collections.abc import Iterable
from datetime import date, datetime

from receiving.dispatch import CartonOutlook, Chance, Costs, Option, OptionKind, OrderStatus, StoreTerms
from receiving.service.deciding import Decision
from receiving.service.dispatch_words import day_words
from receiving.service.store_days import zone

_LEAST_COST = 0.05
_NEAR = 0.055  # further than this from every share that has a word, the figure is said
_SHARES = (
    (0.1, "a tenth of a"),
    (0.2, "a fifth of a"),
    (0.25, "a quarter of a"),
    (1 / 3, "a third of a"),
    (0.5, "half a"),
    (2 / 3, "two thirds of a"),
    (0.75, "three quarters of a"),
    (1.0, "one"),
)


def order_words(status: OrderStatus, outlook: CartonOutlook, decision: Decision) -> str:
    """Until when an order for a missing carton still helps the visit."""
    latest, terms = decision.decided.latest_order, decision.decided.row.terms
    match status:
        case OrderStatus.ORDER_BY:
            return f"order by {day_words(latest)}, {_cut_off(terms, latest or decision.decided.today)}"
        case OrderStatus.ORDER_TODAY:
            return f"order {_today(decision)} before {_cut_off(terms, decision.decided.today)}"
        case OrderStatus.TOO_LATE:
            return f"too late to order for the visit: it had to be ordered by {day_words(latest)}"
        case _:
            return "" if outlook.settled else "no visit to be in time for"


def _cut_off(terms: StoreTerms, day: date) -> str:
    """The time after which an order counts from the next working day, in the store's zone as it is on this day."""
    at_store = zone(terms.time_zone)
    at = datetime.combine(day, terms.cut_off, at_store)
    return f"{at if at_store else at.astimezone():%H:%M %Z}"


def _today(decision: Decision) -> str:
    """The day that an order placed now counts from."""
    ordered, today = decision.decided.order_day, decision.decided.today
    return "today" if ordered == today else day_words(ordered)


def option_title(option: Option, decision: Decision) -> str:
    """A choice as a heading."""
    row = decision.decided.row
    match option.kind:
        case OptionKind.GO:
            return "Go"
        case OptionKind.GO_AND_SET:
            settable = round(option.share * row.positions)
            return f"Go and set {settable} of {row.positions} positions"
        case OptionKind.HOLD:
            return f"Hold the visit until {day_words(option.until)}"
        case _:
            return f"Swap: bring {_listed(carton for carton, _ in option.brought)} from another store"


def cost_words(cost: float) -> str:
    """A cost in visits.

    >>> cost_words(0.714), cost_words(1.0)
    ('0.71 visits', '1 visit')
    """
    return f"{cost:.2f}".rstrip("0").rstrip(".") + (" visit" if round(cost, 2) == 1 else " visits")


def option_cost_words(option: Option, costs: Costs) -> str:
    """What a choice costs in words, and whether that is assumed."""
    if option.cost < _LEAST_COST:
        return "Costs nothing more"
    verb = "Waiting costs" if option.kind is OptionKind.HOLD else "Costs"
    assumed = " (assumed, can be changed)" if costs == Costs() else ""
    return f"{verb} {share_words(option.cost)}{assumed}"


def share_words(cost: float) -> str:
    """A cost in visits, rounded to what is said in words.

    >>> share_words(0.1), share_words(1.01), share_words(1.34)
    ('about a tenth of a visit', 'about one visit', 'about 1.3 visits')
    """
    if cost < _LEAST_COST:
        return "next to nothing"
    share, word = min(_SHARES, key=lambda named: abs(named[0] - cost))
    if abs(share - cost) > _NEAR:
        return f"about {cost:.1f} of a visit" if cost < 1 else f"about {cost:.1f} visits"
    return f"about {word} visit"


def option_reasons(option: Option, decision: Decision) -> tuple[str, ...]:
    """What a choice's cost follows from, a sentence each."""
    costs = decision.costs
    match option.kind:
        case OptionKind.GO:
            return ("All that a position waits for is here, or will be before the visit if it is ordered now.",)
        case OptionKind.GO_AND_SET:
            return (*_arrivals(option, decision), _chance_of_all(option, decision.chance), _again(option, costs))
        case OptionKind.HOLD:
            wait = f"{_days(option.days)} × {cost_words(costs.day)} a day = {cost_words(option.cost)}."
            return (*_arrivals(option, decision), f"The section waits {wait}")
        case _:
            taken = [swap for swap in decision.swaps if swap.want.carton in dict(option.brought)]
            return tuple(
                f"Carton {swap.want.carton}: store {swap.spare.store} has one too many; it would be here "
                f"{day_words(swap.arrives)} and costs {share_words(swap.cost)}."
                for swap in taken
            )


def chance_words(chance: Chance) -> str:
    """How often a missing carton turned up before, with the count, the prior and the interval."""
    if not chance.cases:
        return "No earlier carton was missing this many days before a visit: how often one turns up is not known."
    counted = f"{chance.turned_up} of {chance.cases} cartons missing with as many days left turned up before the visit"
    if not chance.known:
        return f"{counted}: too few cases to state a chance."
    low, high = chance.interval
    return f"{counted}: {chance.mean:.0%} (90 % interval {low:.0%} to {high:.0%}; prior Beta(1/2, 1/2))."


def terms_words(terms: StoreTerms, calendar: str, today: date) -> str:
    """How days are counted at the store."""
    holidays = f"public holidays of {calendar} left out" if calendar else "no public holidays known"
    assumed = ", assumed as neither its layout nor the list of stores says" if terms.lead_assumed else ""
    return (
        f"An order takes {_days(terms.lead_days)} and counts from the next one after {_cut_off(terms, today)}"
        f"{assumed}; {holidays}."
    )


def costs_sentence(costs: Costs) -> str:
    """What choices are taken to cost."""
    assumed = "; assumed, can be changed under Swaps" if costs == Costs() else ""
    return (
        f"Costs are counted in visits: {costs.second_visit:g} for a second visit, {costs.day:g} for each working day "
        f"that a section is not set, {costs.swap:g} for each carton brought from another store{assumed}."
    )


def _arrivals(option: Option, decision: Decision) -> tuple[str, ...]:
    last = f"the working day before {day_words(option.until)}"
    return (f"Late: {_listed(option.late)}, here by {last} if ordered now.",) if option.late else ()


def _chance_of_all(option: Option, chance: Chance) -> str:
    if not chance.known:
        return f"{chance_words(chance)} It is not counted on."
    together = (
        "" if len(option.late) == 1 else f"; all {len(option.late)} of them {chance.all_of(len(option.late)):.0%}"
    )
    return f"{chance_words(chance).rstrip('.')}{together}."


def _again(option: Option, costs: Costs) -> str:
    rest = 1 - option.share
    return (
        f"The chance of a second visit is {option.second_visit:.0%}, and {rest:.0%} of the section waits "
        f"{_days(option.days)}: {option.second_visit:.2f} × ({costs.second_visit:g} + {costs.day:g} × {rest:.2f} × "
        f"{option.days}) = {cost_words(option.cost)}."
    )


def _days(days: int) -> str:
    return f"{days} working day{'' if days == 1 else 's'}"


def _listed(cartons: Iterable[str]) -> str:
    named = list(cartons)
    return f"carton{'' if len(named) == 1 else 's'} {', '.join(named)}"
