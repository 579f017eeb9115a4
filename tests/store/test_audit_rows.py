"""The audit log's lines as they are stored: refusals that are counted, which lines are found, and their order."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from receiving.model import AuditKind, AuditLine, AuditWanted, Deed
from receiving.store import Store
from receiving.store.audit import MOST_COUNTED
from tests.store.test_store import NOW

NETWORK = "203.0.113.0/24"
LONG_AGO = NOW - timedelta(days=9)
REFUSED = AuditLine(
    NOW, "", "", Deed.SIGN_IN_REFUSED.value, "", "", 0, "203.0.113.7", "", about="ada", detail="password"
)
SEEN = AuditLine(NOW, "Bo", "coordinator", "GET shipment.show", "S-1", "0417", 200, "192.0.2.1", "r1")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        yield store


def refuse(store: Store, number: int, **more: object) -> None:
    for _ in range(number):
        line = replace(REFUSED, **more)  # type: ignore[arg-type]
        store.count_refusal(line, NETWORK, forget_before=line.at - timedelta(hours=1))


def counted(store: Store) -> list[int]:
    """How many refusals each line stands for, the oldest first."""
    return [line.times for line in reversed(store.audit(AuditWanted()))]


@pytest.mark.parametrize(
    ("refusals", "lines"),
    [
        (1, [1]),
        (5, [1, 1, 1, 1, 1]),
        (9, [1, 1, 1, 1, 1]),
        (10, [1, 1, 1, 1, 1, 5]),
        (19, [1, 1, 1, 1, 1, 5]),
        (20, [1, 1, 1, 1, 1, 5, 10]),
    ],
)
def test_the_first_five_refusals_have_a_line_each_and_further_ones_one_at_each_doubling(
    store: Store, refusals: int, lines: list[int]
) -> None:
    refuse(store, refusals)
    assert counted(store) == lines


def test_what_was_counted_and_has_no_line_is_written_with_whom_it_was_about_and_once(store: Store) -> None:
    refuse(store, 8)
    later = NOW + timedelta(minutes=5)
    store.write_refusals(later, LONG_AGO)
    store.write_refusals(later, LONG_AGO)
    (last, *before) = store.audit(AuditWanted())
    assert (last.times, last.at, last.about, last.detail) == (3, later, "ada", "password")
    assert (last.action, last.address, last.status) == (REFUSED.action, NETWORK, 0)
    assert len(before) == 5
    refuse(store, 1)
    assert counted(store) == [1, 1, 1, 1, 1, 3], "the ninth is counted with the eight"


def test_a_count_that_began_before_is_forgotten_and_what_comes_then_has_lines_of_its_own(store: Store) -> None:
    refuse(store, 7)
    refuse(store, 1, at=NOW + timedelta(hours=1, seconds=1))
    assert counted(store) == [1, 1, 1, 1, 1, 2, 1]
    refuse(store, 1, at=NOW + timedelta(hours=2, seconds=1))
    assert counted(store)[-1] == 1 and len(counted(store)) == 8, "one that began just then is not forgotten"


def test_each_account_is_counted_by_itself_until_there_are_too_many_which_share_a_count(store: Store) -> None:
    for number in range(MOST_COUNTED):
        refuse(store, 1, about=f"a{number}")
    assert {line.about for line in store.audit(AuditWanted(most=500))} == {f"a{n}" for n in range(MOST_COUNTED)}
    refuse(store, 1, about="one")
    refuse(store, 1, about="two")
    shared = store.audit(AuditWanted(most=2))
    assert [(line.about, line.address, line.times) for line in shared] == [("", "", 1), ("", "", 1)]
    refuse(store, 1, about="a3")
    assert store.audit(AuditWanted(most=1))[0].about == "a3", "whose count there was before keeps it"


WANTED = {
    "everything": (AuditWanted(), [5, 4, 3, 2, 1]),
    "the newest two": (AuditWanted(most=2), [5, 4]),
    "before a line": (AuditWanted(before=3), [2, 1]),
    "of a shipment": (AuditWanted(shipment="S-2"), [3]),
    "by a person": (AuditWanted(person="Bo"), [4, 1]),
    "about a person": (AuditWanted(person="ada"), [5]),
    "what was looked at": (AuditWanted(kind=AuditKind.VIEWS), [4, 1]),
    "what was changed": (AuditWanted(kind=AuditKind.CHANGES), [3, 2]),
    "sign-ins": (AuditWanted(kind=AuditKind.SIGN_INS), [5]),
}


@pytest.mark.parametrize("wanted", WANTED)
def test_lines_are_found_by_shipment_person_kind_and_number_the_newest_first(store: Store, wanted: str) -> None:
    store.add_audit([SEEN, replace(SEEN, name="Cy", action="POST note", shipment="")])
    store.add_audit([replace(SEEN, name="Cy", action="DELETE photo", shipment="S-2")])
    store.add_audit([replace(SEEN, action="HEAD shipment.show"), REFUSED])
    asked, lines = WANTED[wanted]
    assert [line.seq for line in store.audit(asked)] == lines


def test_a_line_is_read_as_it_was_written(store: Store) -> None:
    line = replace(SEEN, about="Di", detail="how", times=7)
    store.add_audit([line])
    assert store.audit(AuditWanted()) == (replace(line, seq=1),)
