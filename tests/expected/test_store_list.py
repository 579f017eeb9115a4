"""A list of stores: every value checked, every fault with its line, and written as it is read back."""

from datetime import time

import pytest

from receiving.errors import FileFaults
from receiving.expected import read_stores, write_stores_csv
from receiving.model import StoreDetails

HEAD = "store,name,time_zone,country,region,lead_days,order_cut_off\n"


def test_each_store_has_what_its_row_says_and_is_read_back_equal() -> None:
    found = read_stores("s.csv", f"{HEAD}0417,Harbor,America/Chicago,us,tx,3,9:30\n0422,,,,,,\n".encode())
    assert found == (
        StoreDetails("0417", "Harbor", "America/Chicago", "US", "TX", 3, time(9, 30)),
        StoreDetails("0422"),
    )
    assert read_stores("s.csv", write_stores_csv(found).encode()) == found


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("0417,,America/Springfield,,,,", "line 2, column 3 (time_zone): is 'America/Springfield'; expected an IANA"),
        ("0417,,,USA,,,", "expected the two letters of a country"),
        ("0417,,,,TX,,", "the region TX has no country"),
        ("0417,,,,,0,", "is not a whole number of at least 1"),
        ("0417,,,,,,25:00", "expected a time of the day"),
        ("0417,,,,,,\n0417,,,,,,", "store '0417' is at line 2 too"),
        (",Harbor,,,,,", "store"),
        ("", "there is no row below the header"),
    ],
)
def test_a_fault_names_its_line_and_what_was_expected(rows: str, said: str) -> None:
    with pytest.raises(FileFaults) as fault:
        read_stores("s.csv", f"{HEAD}{rows}\n".encode())
    assert said in str(fault.value)
