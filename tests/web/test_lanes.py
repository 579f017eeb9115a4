"""Whose turn it is at the server's threads: scans go ahead, who follows gives way, and nobody waits for ever."""

import http.client
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode

import pytest
from flask import Flask

from receiving import service
from tests.web.test_serve import running
from web import lanes
from web.lanes import FOLLOWING_AT_ONCE, PAGES_AT_ONCE, SCANS_AT_ONCE, THREADS, Lanes

PATIENCE_S = 20


@dataclass
class Waiting:
    """A connection whose first request waits."""

    requests: list[Any]
    lane: Any = None
    waits_since_s: float = 0.0


@dataclass
class Clock:
    now_s: float = 100.0
    notified: int = field(default=0)

    def __call__(self) -> float:
        return self.now_s


def asked(command: str, path: str) -> Waiting:
    return Waiting([SimpleNamespace(command=command, path=path)])


def scan() -> Waiting:
    return asked("POST", "/s/S-1/scans")


def follow() -> Waiting:
    return asked("GET", "/s/S-1/live")


def page() -> Waiting:
    return asked("GET", "/s/S-1")


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def queue(clock: Clock) -> Lanes:
    def notify() -> None:
        clock.notified += 1

    return Lanes(notify, clock)


def fill(queue: Lanes, *channels: Waiting) -> None:
    for channel in channels:
        queue.append(channel)


def test_a_scan_is_taken_before_whoever_came_earlier(queue: Lanes) -> None:
    first, second, last = follow(), page(), scan()
    fill(queue, first, second, last)
    assert [queue.popleft() for _ in range(3)] == [last, second, first]


def test_those_of_one_kind_are_taken_in_the_order_in_which_they_came(queue: Lanes) -> None:
    several = [scan() for _ in range(SCANS_AT_ONCE)]
    fill(queue, *several)
    assert [queue.popleft() for _ in several] == several


def test_following_waits_while_a_scan_does(queue: Lanes) -> None:
    fill(queue, follow(), *(scan() for _ in range(SCANS_AT_ONCE + 1)))
    taken = [queue.popleft() for _ in range(SCANS_AT_ONCE)]
    assert not queue
    queue.done(taken[0].lane)
    assert queue.popleft().lane is queue.scans
    assert queue.popleft().lane is queue.following


def test_who_follows_is_answered_in_bounded_time_however_many_scans_come(queue: Lanes, clock: Clock) -> None:
    followers = [follow() for _ in range(5)]
    fill(queue, *followers)
    answered: list[Waiting] = []
    while len(answered) < len(followers):  # one thread; an answer takes 20 ms, and scans wait at every moment
        fill(queue, scan())
        channel = queue.popleft()
        answered += [channel] if channel.lane is queue.following else []
        queue.done(channel.lane)
        clock.now_s += 0.02
        assert clock.now_s < 100 + lanes.AT_LEAST_EACH_S + 0.5
    assert answered == followers


def test_no_kind_takes_the_threads_of_another(queue: Lanes) -> None:
    fill(queue, *(page() for _ in range(20)), *(follow() for _ in range(20)))
    taken = []
    while queue:
        taken.append(queue.popleft())
    assert len(taken) == PAGES_AT_ONCE + FOLLOWING_AT_ONCE == THREADS - SCANS_AT_ONCE
    fill(queue, scan())
    assert queue.popleft().lane is queue.scans


def test_whoever_takes_one_wakes_another_thread_where_one_more_may_begin(queue: Lanes, clock: Clock) -> None:
    fill(queue, follow(), scan())
    queue.popleft()
    assert clock.notified == 1
    queue.popleft()
    assert clock.notified == 1


def test_at_the_end_all_that_waits_is_taken_out(queue: Lanes) -> None:
    fill(queue, *(scan() for _ in range(9)), *(page() for _ in range(9)), *(follow() for _ in range(9)))
    queue.end()
    assert len(queue) == 27
    while queue:
        queue.popleft()
    assert len(queue) == 0


@pytest.fixture
def port(ctx: service.Context) -> Iterator[int]:
    with running(ctx) as port:
        yield port


def test_pages_that_take_long_leave_threads_for_scans_and_for_following(
    port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = threading.Event()
    usual = service.get_list_page

    def slow(*values: Any, **named: Any) -> Any:
        go_on.wait(PATIENCE_S)
        return usual(*values, **named)

    monkeypatch.setattr(service, "get_list_page", slow)
    kept = [http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S) for _ in range(PAGES_AT_ONCE + 4)]
    for each in kept:
        each.request("GET", "/")
    time.sleep(0.3)
    try:
        for method, path, wanted in (("POST", "/s/S-2041~2FA/scans", 403), ("GET", "/s/S-2041~2FA/state", 200)):
            phone = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            phone.request(method, path)
            assert phone.getresponse().status == wanted
            phone.close()
    finally:
        go_on.set()
    assert [each.getresponse().status for each in kept] == [200] * len(kept)
    for each in kept:
        each.close()


def test_whoever_follows_is_answered_while_all_scans_are_held_though_nothing_else_comes(
    port: int, ctx: service.Context
) -> None:
    first = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    first.request("GET", "/")
    cookies = "; ".join(each.partition(";")[0] for each in first.getresponse().headers.get_all("Set-Cookie") or [])
    form = urlencode({"token": cookies.partition("token=")[2].partition(";")[0], "text": "x"})
    headers = {"Cookie": cookies, "Content-Type": "application/x-www-form-urlencoded"}
    phones = [http.client.HTTPConnection("127.0.0.1", port, timeout=2 * PATIENCE_S) for _ in range(SCANS_AT_ONCE + 1)]
    with closing(sqlite3.connect(ctx.data / "receiving.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        for phone in phones:
            phone.request("POST", "/s/S-2041~2FA/scans", form, headers)
        time.sleep(0.5)
        page = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        page.request("GET", "/s/S-2041~2FA/state")
        assert page.getresponse().status == 200
        other.execute("ROLLBACK")
    assert {phone.getresponse().status for phone in phones} == {303}
    for each in (first, page, *phones):
        each.close()


def test_the_addresses_of_scans_and_of_following_are_those_of_the_pages(app: Flask) -> None:
    rules = [(rule.rule, rule.endpoint, rule.methods or set()) for rule in app.url_map.iter_rules()]
    assert {end for rule, end, ways in rules if rule.endswith(lanes.FOLLOWED) and "GET" in ways} == {
        "rep.live",
        "rep.state",
    }
    assert "rep.add_scan" in {end for rule, end, ways in rules if rule.endswith(lanes.SCANNED) and "POST" in ways}
