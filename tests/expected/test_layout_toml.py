"""A layout file: read whole, written back equal, or refused with every fault at its key."""

from datetime import time

import pytest

from receiving.errors import LayoutFaults
from receiving.expected import read_layout, write_layout_toml
from receiving.model import Bay, Cart, Layout

GOOD = """# the store's own file
[store]
id = "0417"
walk_m = 60
[cart]
max_load_kg = 110
deck_length_cm = 120
deck_width_cm = 60.5
stack_height_cm = 100
[[bay]]
id = "B1"
section = "Harbor"
columns = [1, 2, 3]
width_cm = 122
staging_length_cm = 122
staging_depth_cm = 60
order = 1
[[bay]]
id = "B2"
section = "Harbor"
columns = [4]
width_cm = 122
staging_length_cm = 122
staging_depth_cm = 60
order = 2
"""


def faults(text: str | bytes) -> list[str]:
    with pytest.raises(LayoutFaults) as refused:
        read_layout("store.toml", text.encode() if isinstance(text, str) else text)
    return [str(fault) for fault in refused.value.faults]


def test_a_layout_is_read_and_written_back_equal() -> None:
    layout = read_layout("store.toml", GOOD.encode())
    assert layout == Layout(
        store="0417",
        walk_m=60.0,
        cart=Cart(110.0, 120.0, 60.5, 100.0),
        bays=(
            Bay("B1", "Harbor", (1, 2, 3), 1, 122.0, 122.0, 60.0),
            Bay("B2", "Harbor", (4,), 2, 122.0, 122.0, 60.0),
        ),
    )
    assert read_layout("again.toml", write_layout_toml(layout).encode()) == layout


def test_columns_that_overlap_name_both_bays() -> None:
    assert faults(GOOD.replace("[4]", "[3, 4, 2]")) == [
        "line 21, column 1 (columns): columns 3, 2 of section 'Harbor' hang in bay 'B1' already; bays must not overlap"
    ]


def test_all_faults_come_at_once_with_line_and_column() -> None:
    bad = (
        GOOD.replace('id = "0417"', "id = 417")
        .replace("walk_m", "walk")
        .replace("max_load_kg = 110", "max_load_kg = -110")
        .replace("deck_length_cm = 120", 'deck_length_cm = "120"')
        .replace("columns = [4]", "columns = [0]")
        .replace('id = "B2"', 'id = "B1"')
        .replace("order = 2", "order = 1\ncolour = 'red'")
    )
    assert faults(bad) == [
        'line 3, column 1 (id): id is the number 417; put it in quotes, e.g. "0417", so that zeros are kept',
        "line 4, column 1 (walk): 'walk' is not known in [store]; did you mean 'walk_m'?",
        "line 6, column 1 (max_load_kg): max_load_kg is -110; expected a number above 0 and at most 100,000",
        "line 7, column 1 (deck_length_cm): deck_length_cm is '120'; expected a number above 0, without quotes",
        "line 19, column 1 (id): id 'B1' is given to the bay at line 11 too",
        "line 21, column 1 (columns): columns holds 0; a column is a whole number from 1 to 9999",
        "line 25, column 1 (order): order 1 is given to bay 'B1' at line 17 too",
        "line 26, column 1 (colour): 'colour' is not known in [bay]; known are 'id', 'section', 'columns', 'width_cm', "
        "'staging_length_cm', 'staging_depth_cm', 'order', 'aisle_width_cm', 'keep_clear_cm'",
    ]


def test_a_layout_may_say_how_wide_its_aisles_are_and_what_must_stay_free() -> None:
    stated = GOOD.replace("walk_m = 60", "walk_m = 60\nkeep_clear_cm = 112").replace(
        "order = 2", "order = 2\naisle_width_cm = 180.5\nkeep_clear_cm = 91.5"
    )
    layout = read_layout("store.toml", stated.encode())
    assert layout.keep_clear_cm == 112
    assert [(bay.aisle_width_cm, bay.keep_clear_cm) for bay in layout.bays] == [(None, None), (180.5, 91.5)]
    written = write_layout_toml(layout)
    assert read_layout("again.toml", written.encode()) == layout
    assert "# No aisle is measured yet" not in written


def test_a_layout_without_an_aisle_is_written_with_the_keys_to_add() -> None:
    written = write_layout_toml(read_layout("store.toml", GOOD.encode()))
    assert "# No aisle is measured yet: add aisle_width_cm to each [[bay]], and here keep_clear_cm" in written


def test_a_bay_may_keep_no_floor() -> None:
    layout = read_layout(
        "store.toml", GOOD.replace("staging_depth_cm = 60\norder = 2", "staging_depth_cm = 0\norder = 2").encode()
    )
    assert [bay.staging_depth_cm for bay in layout.bays] == [60, 0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            GOOD.replace("walk_m = 60", "walk_m = 60\nkeep_clear_cm = 0"),
            "line 5, column 1 (keep_clear_cm): keep_clear_cm is 0; expected a number above 0 and at most 100,000",
        ),
        (
            GOOD.replace("order = 2", 'order = 2\naisle_width_cm = "180"'),
            "line 26, column 1 (aisle_width_cm): aisle_width_cm is '180'; expected a number above 0, without quotes",
        ),
        (
            GOOD.replace("order = 2", "order = 2\naisle_width = 180"),
            "line 26, column 1 (aisle_width): 'aisle_width' is not known in [bay]; did you mean 'aisle_width_cm'?",
        ),
        (GOOD.replace("staging_depth_cm = 60\norder = 2", "order = 2"), "staging_depth_cm is missing in [bay]"),
        (GOOD.replace("staging_depth_cm = 60\norder = 2", "staging_depth_cm = -1\norder = 2"), "is -1; expected"),
        (GOOD[: GOOD.index("[cart]")] + GOOD[GOOD.index("[[bay]]") :], "[cart] is missing; it holds max_load_kg"),
        ("", "the file is empty"),
        (GOOD.encode("utf-16"), "UTF-16"),
        (GOOD.replace("walk_m = 60", "walk_m = "), "line 4, column 10: this is not TOML: Invalid value"),
        (GOOD.replace("[cart]", "[card]"), "'card' is not known; did you mean 'cart'?"),
        (GOOD[: GOOD.index("[[bay]]")], "there is no [[bay]]"),
        (GOOD.replace("walk_m = 60", "walk_m = nan"), "walk_m is nan; expected a number above 0"),
        (GOOD.replace("walk_m = 60", "walk_m = true"), "walk_m is True; expected a number"),
        (GOOD.replace("walk_m = 60", "walk_m = " + "9" * 5000), "the TOML cannot be read"),
        (GOOD.replace("[1, 2, 3]", "[1, 2, 2]"), "columns names column 2 twice"),
        (GOOD.replace("[1, 2, 3]", "3"), "columns is 3; expected a list of column numbers"),
        (GOOD.replace("order = 1", "order = 1.5"), "order is 1.5; expected a whole number of at least 1"),
        ("a = " + "[" * 5000, "the TOML cannot be read"),
        ("a." * 30 + "a = 1", "line 1: a key of more than 20 parts"),
        ("store = 3\ncart = []\nbay = {}", "line 1, column 1 (store): [store] is 3, not a table"),
    ],
)
def test_a_file_that_is_no_layout_says_why(text: str | bytes, words: str) -> None:
    assert words in "\n".join(faults(text))


def test_names_survive_quotes_and_signs_of_other_scripts() -> None:
    odd = 'Bay "left" \\ Zürich 報'
    layout = read_layout("store.toml", GOOD.encode())
    changed = Layout(odd, 0.1, layout.cart, layout.bays)
    assert read_layout("again.toml", write_layout_toml(changed).encode()) == changed


CALENDAR = """name = "Elm Street"
time_zone = "America/Chicago"
country = "us"
region = "TX"
lead_days = 3
order_cut_off = "14:00"
"""


def test_a_store_has_a_time_zone_and_working_days_of_its_own() -> None:
    layout = read_layout("store.toml", GOOD.replace("[cart]", f"{CALENDAR}[cart]").encode())
    values = (layout.name, layout.time_zone, layout.country, layout.region, layout.lead_days, layout.order_cut_off)
    assert values == ("Elm Street", "America/Chicago", "US", "TX", 3, time(14))
    assert read_layout("again.toml", write_layout_toml(layout).encode()) == layout


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ('time_zone = "Chicago"', "time_zone is 'Chicago'; expected an IANA time zone, e.g. \"America/Chicago\""),
        ('time_zone = "../passwd"', "time_zone is '../passwd'; expected an IANA time zone, e.g. \"America/Chicago\""),
        ('country = "Texas"', "country is 'Texas'; expected the two letters of a country, e.g. \"US\""),
        ('region = "Texas, USA"', "region is 'Texas, USA'; expected the letters of a state or province, e.g. \"TX\""),
        ("lead_days = 0", "lead_days is 0; expected a whole number of at least 1"),
        ('order_cut_off = "2 pm"', "order_cut_off is '2 pm'; expected a time of the day, e.g. \"14:00\""),
    ],
)
def test_a_time_zone_a_country_or_a_time_that_is_none_is_named(line: str, fault: str) -> None:
    key = line.split(" ")[0]
    assert faults(GOOD.replace("[cart]", f"{line}\n[cart]")) == [f"line 5, column 1 ({key}): {fault}"]


def test_a_layout_of_too_many_bytes_is_not_looked_into(monkeypatch: pytest.MonkeyPatch) -> None:
    """A megabyte of digits cost 1.5 s before its size was refused."""
    monkeypatch.setattr("receiving.expected.layout.decode_table", None)
    with pytest.raises(LayoutFaults, match="the file has 1,000,000 bytes; a layout has at most 200,000"):
        read_layout("l", b"9" * 1_000_000)
