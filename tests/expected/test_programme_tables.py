"""A kit gives addresses, kinds and open-first marks to manifests that carry none.

A list of stores: every value checked, every fault with its line, and written as it is read back.
"""

from datetime import time

import pytest

from receiving.errors import FileFaults
from receiving.expected import Kit, KitPlace, read_kit, read_manifests, read_stores, write_kit_csv, write_stores_csv
from receiving.model import Address, CartonKind, ContentLine, StoreDetails
from tests.expected.edi_messages import STANDARD, x12

KIT_CSV = """item,section,column,row,kind,description,open_first
TRAY-A,Harbor,1,2,tray,Tray A,no
TRAY-A,Harbor,1,3,tray,Tray A,no
TAGS,Harbor,,,tags,,yes
"""


def test_a_kit_is_read_and_written_back_equal() -> None:
    kit = read_kit("kit.csv", KIT_CSV.encode())
    assert kit.of("tray-a") == (
        KitPlace("TRAY-A", "Harbor", Address("Harbor", 1, 2), CartonKind.TRAY, "Tray A"),
        KitPlace("TRAY-A", "Harbor", Address("Harbor", 1, 3), CartonKind.TRAY, "Tray A"),
    )
    assert read_kit("again.csv", write_kit_csv(kit).encode()) == kit
    assert kit.of("unknown") == ()


def test_a_notice_gets_its_addresses_from_the_kit() -> None:
    (manifest,) = read_manifests("n.x12", x12(STANDARD), kit=read_kit("kit.csv", KIT_CSV.encode())).manifests
    outer, tray, tags = manifest.cartons
    assert (outer.kind, tray.kind, tags.kind) == (CartonKind.OUTER, CartonKind.TRAY, CartonKind.TAGS)
    assert tray.contents == (
        ContentLine("Harbor", Address("Harbor", 1, 2), "TRAY-A", "Sample tray A", 1, "EA", ("614141999996",)),
        ContentLine("Harbor", Address("Harbor", 1, 3), "TRAY-A", "Sample tray A", 1, "EA", ("614141999996",)),
    )
    assert tags.contents == (ContentLine("Harbor", None, "TAGS", "", 40, "EA"),)
    assert (tray.open_first, tags.open_first) == (False, True)


def test_a_quantity_that_does_not_divide_is_kept_whole_and_said() -> None:
    notice = x12(tuple(segment.replace("SN1**2*EA", "SN1**3*EA") for segment in STANDARD))
    read = read_manifests("n.x12", notice, kit=read_kit("kit.csv", KIT_CSV.encode()))
    assert read.manifests[0].cartons[1].contents == (
        ContentLine("Harbor", None, "TRAY-A", "Sample tray A", 3, "EA", ("614141999996",)),
    )
    assert any("3 of item 'TRAY-A' cannot be divided among its 2 kit places" in str(w) for w in read.warnings)


def test_an_address_in_the_manifest_stands_against_the_kit() -> None:
    csv = "shipment,store,carton,kind,section,column,row,item\nS,1,1,tray,Harbor,9,9,TRAY-A\n"
    (manifest,) = read_manifests("m.csv", csv.encode(), kit=read_kit("kit.csv", KIT_CSV.encode())).manifests
    assert manifest.cartons[0].addresses == (Address("Harbor", 9, 9),)


def test_all_faults_of_a_kit_come_at_once() -> None:
    with pytest.raises(FileFaults) as refused:
        read_kit("kit.csv", b"item,section,column,row\n,H,1,1\nA,H,1,\nB,H,x,2\n")
    assert [str(fault) for fault in refused.value.faults] == [
        "line 2, column 1 (item): item is empty; every row needs it",
        "line 3, column 4 (row): column and row are given both or neither",
        "line 4, column 3 (column): 'x' is not a whole number of at least 1",
    ]


def test_an_empty_kit_knows_nothing() -> None:
    assert Kit().of("A") == ()


HEAD = "store,name,time_zone,country,region,lead_days,order_cut_off\n"


def test_each_store_has_what_its_row_says_and_is_read_back_equal() -> None:
    found = read_stores("s.csv", f"{HEAD}0417,Harbor,America/Chicago,us,tx,3,9:30\n0422,,,,,,\n".encode())
    assert found == (
        StoreDetails("0417", "Harbor", "America/Chicago", "US", "TX", 3, time(9, 30)),
        StoreDetails("0422"),
    )
    assert read_stores("s.csv", write_stores_csv(found).encode()) == found


@pytest.mark.parametrize(
    ("rows", "expected"),
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
def test_a_fault_names_its_line_and_what_was_expected(rows: str, expected: str) -> None:
    with pytest.raises(FileFaults) as fault:
        read_stores("s.csv", f"{HEAD}{rows}\n".encode())
    assert expected in str(fault.value)
