"""Parts of a page that many phones follow: what changed between two of them, and how often one is drawn."""

import re
from http import HTTPStatus

from hypothesis import given
from hypothesis import strategies as st

from tests.web.conftest import Browser
from tests.web.scenario import sscc
from web.followed import apply_delta, delta
from web.pace import HELD_S, MOST_A_SECOND, Pace

LINES = st.lists(st.sampled_from(["a", "b", "c", "", "</li>", "<li>", "é😀", "d"]), max_size=12).map("\n".join)
LIVE = "/s/S-2041~2FA/live"


@given(LINES, LINES)
def test_what_changed_makes_the_new_text_of_any_old_one(old: str, new: str) -> None:
    pieces = delta(old, new)
    assert apply_delta(old, pieces) == new
    if old == new and len(set(old.split("\n"))) == len(old.split("\n")):
        assert pieces == [[0, len(old.split("\n"))]]


def test_a_phone_that_holds_the_part_is_sent_what_changed(browser: Browser) -> None:
    before = browser.get(LIVE)
    browser.post("/s/S-2041~2FA/scans", {"text": f"]C100{sscc(1)}"})
    whole = browser.get(LIVE)
    changed = browser.client.get(LIVE, headers={"X-Held": before.headers["X-Mark"]})
    assert changed.status_code == HTTPStatus.OK
    assert changed.json is not None
    assert apply_delta(before.text, changed.json["pieces"]) == whole.text
    assert changed.json["lines"] == whole.text.count("\n") + 1
    assert changed.json["mark"] == changed.headers["X-Mark"] == whole.headers["X-Mark"]
    assert len(changed.data) < len(whole.data) / 4
    assert browser.token not in before.headers["X-Mark"]


def test_a_phone_that_holds_what_nobody_knows_is_sent_the_part(browser: Browser) -> None:
    whole = browser.get(LIVE)
    for held in ("", "nothing", f"{'0' * 16}.{'0' * 16}", "x" * 5000):
        assert browser.client.get(LIVE, headers={"X-Held": held}).text == whole.text


def test_a_part_with_another_token_is_not_put_together_with_this_one(browser: Browser) -> None:
    browser.post("/s/S-2041~2FA/scans", {"text": "nobody knows this"})  # a form to leave it out, with the token
    mark = browser.get(LIVE).headers["X-Mark"]
    old = browser.token
    browser.client.delete_cookie("token")
    renewed = browser.client.get(LIVE, headers={"X-Held": mark})
    tokens = set(re.findall(r'name="token" value="([^"]+)"', renewed.text))
    assert len(tokens) == 1
    assert old not in tokens


# --- how often a followed part is drawn: always at once, but while very many are drawn a second ---------------------


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def busy(clock: Clock) -> Pace:
    """Parts of many shipments drawn in half a second."""
    pace = Pace(clock)
    for n in range(MOST_A_SECOND):
        pace.drawn(f"other {n}", "1")
        clock.now += 0.5 / MOST_A_SECOND
    return pace


def test_a_few_readers_always_get_the_newest() -> None:
    clock = Clock()
    pace = Pace(clock)
    for n in range(MOST_A_SECOND - 1):
        pace.drawn("S-1", f"v{n}")
    assert pace.version("S-1", "newest", "v3") == "newest"


def test_while_very_many_are_drawn_a_young_part_is_shown_for_a_second() -> None:
    clock = Clock()
    pace = busy(clock)
    pace.drawn("S-1", "v1")
    pace.drawn("S-1", "v2")
    assert pace.version("S-1", "v3", "v1") == "v2"
    assert pace.version("S-1", "v3", "v2") == "v2"
    clock.now += HELD_S
    assert pace.version("S-1", "v3", "v2") == "v3"


def test_a_reader_never_goes_back_to_an_older_version() -> None:
    pace = busy(Clock())
    pace.drawn("S-1", "v1")
    assert pace.version("S-1", "v3", "v2") == "v3"  # the page was opened at v2, which no part showed
    assert pace.version("S-1", "v3", "") == "v3"


def test_shipments_do_not_hold_each_other() -> None:
    pace = busy(Clock())
    pace.drawn("S-1", "v1")
    assert pace.version("S-2", "v9", "v1") == "v9"


def test_it_is_over_once_fewer_are_drawn() -> None:
    clock = Clock()
    pace = busy(clock)
    clock.now += HELD_S
    pace.drawn("S-1", "v1")
    assert pace.version("S-1", "v2", "v1") == "v2"
