"""The choices for a visit: their costs by hand, and the chance by the library's beta-binomial."""

from dataclasses import replace
from datetime import date, time

import pytest
from scipy.special import betainc
from scipy.stats import betabinom

from receiving.dispatch import (
    Chance,
    Costs,
    OptionKind,
    OrderStatus,
    Spare,
    StoreDay,
    StoreTerms,
    Swap,
    Wait,
    Want,
    decide,
    learn,
    options,
    order_status,
)
from receiving.model import CartonKind, FollowUp
from tests.dispatch.test_deciding import ROW, followed, short_of

TERMS = StoreTerms(lead_days=3, cut_off=time(14))
NO_CASES = Chance(0, 0)


def day(today: date, hour: int = 9) -> StoreDay:
    return StoreDay(today, time(hour))


@pytest.mark.parametrize(
    ("today", "hour", "status"),
    [
        (date(2026, 3, 2), 9, OrderStatus.ORDER_BY),
        (date(2026, 3, 3), 9, OrderStatus.ORDER_TODAY),  # Tuesday + 3 working days = Friday, the visit is on Monday
        (date(2026, 3, 3), 14, OrderStatus.TOO_LATE),
        (date(2026, 3, 2), 14, OrderStatus.ORDER_TODAY),  # after the cut-off it counts from Tuesday
        (date(2026, 3, 7), 9, OrderStatus.TOO_LATE),
    ],
)
def test_an_order_helps_until_its_lead_time_no_longer_fits(today: date, hour: int, status: OrderStatus) -> None:
    decided = decide(replace(short_of(), terms=TERMS), day(today, hour))
    assert decided.latest_order == date(2026, 3, 3)
    assert {order_status(each, decided) for each in decided.outlooks} == {status}


def test_what_is_settled_needs_no_order() -> None:
    row = replace(short_of(followed("01", FollowUp.DONE_WITHOUT)), terms=TERMS)
    decided = decide(row, day(date(2026, 3, 2)))
    assert [order_status(each, decided) for each in decided.outlooks] == [OrderStatus.NOT_NEEDED, OrderStatus.ORDER_BY]


def test_a_visit_for_which_all_can_still_be_ordered_goes() -> None:
    decided = decide(replace(short_of(), terms=TERMS), day(date(2026, 3, 3)))
    (option,) = options(decided, day(date(2026, 3, 3)), NO_CASES, Costs())
    assert (option.kind, option.cost) == (OptionKind.GO, 0)


def test_the_choices_of_a_visit_that_will_lack_something_cost_what_they_cost_by_hand() -> None:
    today = day(date(2026, 3, 5))  # ordered on Thursday: at the store on Tuesday 10, a day after the visit
    decided = decide(replace(short_of(), terms=TERMS), today)
    go, hold = options(decided, today, NO_CASES, Costs(second_visit=1, day=0.1))[::-1]
    assert (hold.kind, hold.until, hold.days) == (OptionKind.HOLD, date(2026, 3, 11), 2)
    assert hold.cost == pytest.approx(0.2)
    assert (go.kind, go.late, go.second_visit) == (OptionKind.GO_AND_SET, ("01", "02"), 1.0)
    assert go.share == pytest.approx(20 / 24)
    assert go.cost == pytest.approx(1 + 0.1 * 4 / 24 * 2)
    dear = options(decided, today, NO_CASES, Costs(second_visit=1, day=0.6))
    assert [each.kind for each in dear] == [OptionKind.GO_AND_SET, OptionKind.HOLD]


def test_what_usually_turns_up_makes_going_cheaper() -> None:
    today = day(date(2026, 3, 5))
    decided = decide(replace(short_of(), terms=TERMS), today)
    chance = Chance(45, 50)
    go = next(o for o in options(decided, today, chance, Costs()) if o.kind is OptionKind.GO_AND_SET)
    assert go.second_visit == pytest.approx(1 - betabinom.pmf(2, 2, 45.5, 5.5))
    assert go.cost == pytest.approx(go.second_visit * (1 + 0.1 * 4 / 24 * 2))


def test_a_swap_is_offered_only_when_it_brings_all_that_is_late_in_time() -> None:
    today = day(date(2026, 3, 5))
    decided = decide(replace(short_of(), terms=TERMS), today)

    def swap(carton: str, store: str, arrives: date, cost: float = 0.05) -> Swap:
        want = Want("0417", "S-1", carton, "tray", date(2026, 3, 9))
        return Swap(Spare(store, f"S-{store}", "tray"), want, cost, arrives)

    both = {"01": swap("01", "0500", date(2026, 3, 6)), "02": swap("02", "0501", date(2026, 3, 6), 0.06)}
    best = options(decided, today, NO_CASES, Costs(swap=7), both)[0]
    assert (best.kind, best.brought) == (OptionKind.SWAP, (("01", "0500"), ("02", "0501")))
    assert best.cost == pytest.approx(0.11)  # what the lanes say, whatever is usual
    one = {"01": both["01"]}
    on_the_day = {**both, "02": swap("02", "0501", date(2026, 3, 9))}
    for swaps in (one, on_the_day):
        assert OptionKind.SWAP not in [o.kind for o in options(decided, today, NO_CASES, Costs(), swaps)]


def test_a_carton_that_a_section_waits_for_leaves_nothing_to_set() -> None:
    today = day(date(2026, 3, 5))
    row = replace(short_of(kind=CartonKind.PARTS, blocked={}), terms=TERMS)
    go = next(o for o in options(decide(row, today), today, NO_CASES, Costs()) if o.kind is OptionKind.GO_AND_SET)
    assert go.share == 0
    tags = replace(short_of(blocked={}), terms=TERMS)  # nothing waits for tags
    assert [o.kind for o in options(decide(tags, today), today, NO_CASES, Costs())] == [OptionKind.GO]


def test_no_chance_is_stated_from_too_few_cases() -> None:
    assert not Chance(2, 4).known
    assert Chance(3, 5).known
    assert Chance(3, 5).mean == pytest.approx(betabinom.pmf(1, 1, 3.5, 2.5))
    assert Chance(12, 40).all_of(3) == pytest.approx(betabinom.pmf(3, 3, 12.5, 28.5))
    low, high = Chance(12, 40).interval
    assert (betainc(12.5, 28.5, low), betainc(12.5, 28.5, high)) == (pytest.approx(0.05), pytest.approx(0.95))


def test_a_chance_is_learned_from_visits_that_are_over_and_cases_with_as_many_days_left() -> None:
    over = replace(ROW, planned_visit=date(2026, 2, 1))
    waits = (Wait(6, 4), Wait(6, 1), Wait(6, None), Wait(6, 0), Wait(2, None))
    rows = [replace(over, waits=waits), replace(ROW, waits=(Wait(6, 4),))]  # the visit of the other is still to come
    today = date(2026, 3, 2)
    assert learn(rows, today, 5) == Chance(2, 4)
    assert learn(rows, today, 4) == Chance(1, 3)  # one was here by then
    assert learn(rows, today, 2) == Chance(1, 4)
    assert learn(rows, today, 1) == Chance(0, 3)
    assert learn(rows, today, 7) == Chance(0, 0)
