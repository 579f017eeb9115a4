"""The choices for a visit as messages, each figure with its reasons."""

from collections.abc import Iterable
from datetime import date, datetime

from receiving.dispatch import CartonOutlook, Chance, Costs, Option, OptionKind, OrderStatus, StoreTerms
from receiving.messages import Figure, Message, Text, TimeOfDay, figure, joined, message, plural
from receiving.service.deciding import Decision
from receiving.service.dispatch_words import day_words
from receiving.service.stores import find_zone

_LEAST_COST = 0.05
_NEAR = 0.055  # further than this from every share that has a word, the figure is said
_SHARES = (
    (0.1, message("about a tenth of a visit")),
    (0.2, message("about a fifth of a visit")),
    (0.25, message("about a quarter of a visit")),
    (1 / 3, message("about a third of a visit")),
    (0.5, message("about half a visit")),
    (2 / 3, message("about two thirds of a visit")),
    (0.75, message("about three quarters of a visit")),
    (1.0, message("about one visit")),
)


def order_words(status: OrderStatus, outlook: CartonOutlook, decision: Decision) -> Text:
    """Until when an order for a missing carton still helps the visit."""
    latest, terms, today = decision.decided.latest_order, decision.decided.row.terms, decision.decided.today
    match status:
        case OrderStatus.ORDER_BY:
            time = _cut_off(terms, latest or today)
            return message("order by {day}, {time}", day=day_words(latest), time=time)
        case OrderStatus.ORDER_TODAY if decision.decided.order_day == today:
            return message("order today before {time}", time=_cut_off(terms, today))
        case OrderStatus.ORDER_TODAY:
            day = day_words(decision.decided.order_day)
            return message("order {day} before {time}", day=day, time=_cut_off(terms, today))
        case OrderStatus.TOO_LATE:
            return message("too late to order for the visit: it had to be ordered by {day}", day=day_words(latest))
        case _:
            return "" if outlook.resolved else message("no visit to be in time for")


def _cut_off(terms: StoreTerms, day: date) -> TimeOfDay:
    """The time after which an order counts from the next working day, in the store's zone as it is on this day."""
    at_store = find_zone(terms.time_zone)
    at = datetime.combine(day, terms.cut_off, at_store)
    return TimeOfDay(at if at_store else at.astimezone())


def option_words(option: Option, decision: Decision) -> Message:
    """A choice as a heading."""
    row = decision.decided.row
    match option.kind:
        case OptionKind.GO:
            return message("Go")
        case OptionKind.GO_AND_SET:
            settable = round(option.share * row.positions)
            return message("Go and set {settable} of {positions} positions", settable=settable, positions=row.positions)
        case OptionKind.HOLD:
            return message("Hold the visit until {day}", day=day_words(option.until))
        case _:
            return message(
                "Swap: bring {cartons} from another store", cartons=_listed(carton for carton, _ in option.brought)
            )


def cost_words(cost: float) -> Message:
    """A cost in visits.

    >>> str(cost_words(0.714)), str(cost_words(1.0))
    ('0.71 visits', '1 visit')
    """
    cost = round(float(cost), 2)
    # A part of one is singular in some languages and plural in others, as zero is.
    number = 1 if cost == 1 else 0 if cost < 1 else 2
    return plural(number, "{cost} visit", "{cost} visits", cost=cost)


def option_cost_words(option: Option, costs: Costs) -> Message:
    """What a choice costs in words, and whether that is assumed."""
    if option.cost < _LEAST_COST:
        return message("Costs nothing more")
    cost, assumed = share_words(option.cost), costs == Costs()
    if option.kind is OptionKind.HOLD and assumed:
        return message("Waiting costs {cost} (assumed, can be changed)", cost=cost)
    if option.kind is OptionKind.HOLD:
        return message("Waiting costs {cost}", cost=cost)
    if assumed:
        return message("Costs {cost} (assumed, can be changed)", cost=cost)
    return message("Costs {cost}", cost=cost)


def share_words(cost: float) -> Message:
    """A cost in visits, rounded to what is said in words.

    >>> str(share_words(0.1)), str(share_words(1.01)), str(share_words(1.34))
    ('about a tenth of a visit', 'about one visit', 'about 1.3 visits')
    """
    if cost < _LEAST_COST:
        return message("next to nothing")
    share, words = min(_SHARES, key=lambda named: abs(named[0] - cost))
    if abs(share - cost) <= _NEAR:
        return words
    if cost < 1:
        return message("about {cost} of a visit", cost=figure(cost, 1))
    return message("about {cost} visits", cost=figure(cost, 1))


def list_option_reasons(option: Option, decision: Decision) -> tuple[Text, ...]:
    """What a choice's cost follows from, a sentence each."""
    costs = decision.costs
    match option.kind:
        case OptionKind.GO:
            return (
                message("All that a position waits for is here, or will be before the visit if it is ordered now."),
            )
        case OptionKind.GO_AND_SET:
            return (*_arrivals(option, decision), _chance_of_all(option, decision.chance), _again(option, costs))
        case OptionKind.HOLD:
            waits = message(
                "The section waits {days} × {a_day} a day = {cost}.",
                days=_days(option.days),
                a_day=cost_words(costs.day),
                cost=cost_words(option.cost),
            )
            return (*_arrivals(option, decision), waits)
        case _:
            taken = [swap for swap in decision.swaps if swap.want.carton in dict(option.brought)]
            return tuple(
                message(
                    "Carton {carton}: store {store} has one too many; it would be here {day} and costs {cost}.",
                    carton=swap.want.carton,
                    store=swap.spare.store,
                    day=day_words(swap.arrives),
                    cost=share_words(swap.cost),
                )
                for swap in taken
            )


def chance_words(chance: Chance) -> Message:
    """How often a missing carton turned up before, with the count, the prior and the interval."""
    if not chance.cases:
        return message(
            "No earlier carton was missing this many days before a visit: how often one turns up is not known."
        )
    if not chance.known:
        return message("{count}: too few cases to state a chance.", count=_turned_up(chance))
    return message("{chance}.", chance=_known_chance(chance))


def _turned_up(chance: Chance) -> Message:
    return plural(
        chance.turned_up,
        "{number} of {cases} cartons missing with as many days left turned up before the visit",
        "{number} of {cases} cartons missing with as many days left turned up before the visit",
        cases=chance.cases,
    )


def _known_chance(chance: Chance) -> Message:
    low, high = chance.interval
    return message(
        "{count}: {mean}% (90 % interval {low}% to {high}%; prior Beta(1/2, 1/2))",
        count=_turned_up(chance),
        mean=_percent(chance.mean),
        low=_percent(low),
        high=_percent(high),
    )


def _percent(share: float) -> Figure:
    return figure(100 * share)


def terms_words(terms: StoreTerms, calendar: str, today: date) -> Message:
    """How days are counted at the store."""
    if calendar:
        holidays = message("public holidays of {calendar} left out", calendar=calendar)
    else:
        holidays = message("no public holidays known")
    days, time = _days(terms.lead_days), _cut_off(terms, today)
    if terms.lead_assumed:
        return message(
            "An order takes {days} and counts from the next one after {time}, assumed as neither its layout nor the "
            "list of stores says; {holidays}.",
            days=days,
            time=time,
            holidays=holidays,
        )
    return message(
        "An order takes {days} and counts from the next one after {time}; {holidays}.",
        days=days,
        time=time,
        holidays=holidays,
    )


def costs_words(costs: Costs) -> Message:
    """What choices are taken to cost."""
    counted = message(
        "Costs are counted in visits: {second_visit} for a second visit, {day} for each working day that a section "
        "is not set, {swap} for each carton brought from another store",
        second_visit=float(costs.second_visit),
        day=float(costs.day),
        swap=float(costs.swap),
    )
    if costs == Costs():
        return message("{costs}; assumed, can be changed under Swaps.", costs=counted)
    return message("{costs}.", costs=counted)


def _arrivals(option: Option, decision: Decision) -> tuple[Message, ...]:
    if not option.late:
        return ()
    late = message(
        "Late: {cartons}, here by the working day before {day} if ordered now.",
        cartons=_listed(option.late),
        day=day_words(option.until),
    )
    return (late,)


def _chance_of_all(option: Option, chance: Chance) -> Text:
    if not chance.known:
        return joined(chance_words(chance), message("It is not counted on."))
    if len(option.late) == 1:
        return chance_words(chance)
    number = len(option.late)
    return message(
        "{chance}; all {number} of them {together}%.",
        chance=_known_chance(chance),
        number=number,
        together=_percent(chance.all_of(number)),
    )


def _again(option: Option, costs: Costs) -> Message:
    rest = 1 - option.share
    return message(
        "The chance of a second visit is {chance}%, and {rest}% of the section waits {days}: "
        "{second_visit} × ({visit_cost} + {day_cost} × {part} × {number}) = {cost}.",
        chance=_percent(option.second_visit),
        rest=_percent(rest),
        days=_days(option.days),
        second_visit=figure(option.second_visit, 2),
        visit_cost=float(costs.second_visit),
        day_cost=float(costs.day),
        part=figure(rest, 2),
        number=option.days,
        cost=cost_words(option.cost),
    )


def _days(days: int) -> Message:
    return plural(days, "{number} working day", "{number} working days")


def _listed(cartons: Iterable[str]) -> Message:
    named = list(cartons)
    return plural(len(named), "carton {cartons}", "cartons {cartons}", cartons=", ".join(named))
