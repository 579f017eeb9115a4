"""What is worked out when somebody looks is a value like any other."""

import copy
import pickle

from receiving.matching import reconcile
from receiving.model import CartonState, Deferred, Reconciliation
from tests.matching.scenes import carton, manifest, read, sscc

EXPECTED = manifest(carton("01", (1, 1)), carton("02", (1, 2)))


def test_nothing_is_worked_out_before_somebody_looks_and_then_once() -> None:
    made: list[str] = []

    def make() -> tuple[str, ...]:
        made.append("made")
        return ("a", "b")

    words = Deferred(make)
    assert made == []
    assert (list(words), words[1], words[:1], len(words), "b" in words) == (["a", "b"], "b", ("a",), 2, True)
    assert made == ["made"]


def test_it_equals_its_tuple_and_another_of_the_same() -> None:
    words = Deferred(lambda: ("a",))
    assert words == ("a",)
    assert [("a",), ("b",)].index(words) == 0
    assert words == Deferred(lambda: ("a",))
    assert words != Deferred(lambda: ("b",))
    assert (hash(words), repr(words)) == (hash(("a",)), "('a',)")


def test_a_reconciliation_is_pickled_and_copied_with_all_that_it_says() -> None:
    result = reconcile(EXPECTED, [read(1, sscc=sscc(1001))])
    again: Reconciliation = pickle.loads(pickle.dumps(result))
    assert again == result == copy.deepcopy(result)
    assert type(again.cartons) is tuple
    assert again.short == result.short
    assert [f.state for f in again.cartons] == [CartonState.RECEIVED, CartonState.SHORT]
