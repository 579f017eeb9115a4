"""What changed in a part that phones follow: put together again it is the part, and it is small."""

import re
from http import HTTPStatus

from hypothesis import given
from hypothesis import strategies as st

from tests.web.conftest import Browser
from tests.web.scenario import sscc
from web.followed import delta, patched

LINES = st.lists(st.sampled_from(["a", "b", "c", "", "</li>", "<li>", "é😀", "d"]), max_size=12).map("\n".join)
LIVE = "/s/S-2041~2FA/live"


@given(LINES, LINES)
def test_what_changed_makes_the_new_text_of_any_old_one(old: str, new: str) -> None:
    pieces = delta(old, new)
    assert patched(old, pieces) == new
    if old == new and len(set(old.split("\n"))) == len(old.split("\n")):
        assert pieces == [[0, len(old.split("\n"))]]


def test_a_phone_that_holds_the_part_is_sent_what_changed(browser: Browser) -> None:
    before = browser.get(LIVE)
    browser.post("/s/S-2041~2FA/scans", {"text": f"]C100{sscc(1)}"})
    whole = browser.get(LIVE)
    changed = browser.client.get(LIVE, headers={"X-Held": before.headers["X-Mark"]})
    assert changed.status_code == HTTPStatus.OK
    assert changed.json is not None
    assert patched(before.text, changed.json["pieces"]) == whole.text
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
