"""How often a followed part is drawn: always at once, but while very many are drawn a second."""

from web.pace import HELD_S, MOST_A_SECOND, Pace


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
