import threading
import time
from concurrent import futures

from receiving.service.pools import Delayed


def test_what_is_due_first_starts_first_whatever_was_asked_for_first() -> None:
    delayed, started = Delayed(), []
    waits = [
        delayed.start_after(seconds, lambda seconds=seconds: started.append(seconds))  # type: ignore[misc]
        for seconds in (0.3, 0.05, 0.15)
    ]
    begun = time.monotonic()
    futures.wait(waits, timeout=30)
    assert started == [0.05, 0.15, 0.3]
    assert time.monotonic() - begun >= 0.2


def test_a_fault_of_what_is_started_is_given_and_the_next_starts_all_the_same() -> None:
    delayed, fault = Delayed(), RuntimeError("no more threads")

    def fail() -> None:
        raise fault

    first, second = delayed.start_after(0, fail), delayed.start_after(0.05, lambda: None)
    assert first.exception(timeout=30) is fault
    assert second.result(timeout=30) is None


def test_its_thread_lives_while_anything_waits_and_one_is_made_anew_for_what_comes_later() -> None:
    delayed = Delayed()
    for _ in range(2):
        delayed.start_after(0, lambda: None).result(timeout=30)
        ends = time.monotonic() + 30
        while any(thread.name == "delayed" for thread in threading.enumerate()):
            assert time.monotonic() < ends
            time.sleep(0.01)


def test_closed_it_starts_nothing_and_nobody_waits_for_it() -> None:
    delayed, started = Delayed(), []
    before = delayed.start_after(0.2, lambda: started.append("before"))
    delayed.close()
    after = delayed.start_after(0, lambda: started.append("after"))
    assert futures.wait((before, after), timeout=0.1).not_done == set()
    time.sleep(0.3)
    assert started == []
