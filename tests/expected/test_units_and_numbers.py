"""Columns of the manifest contract beside the first ones: US units, several numbers of a carton, the visit's date."""

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import read_manifests, write_manifest_csv
from receiving.model import Carton

HEAD = "shipment,store,carton,kind"


def read(columns: str, *rows: str) -> Carton:
    return cartons(columns, *rows)[0]


def cartons(columns: str, *rows: str) -> tuple[Carton, ...]:
    text = "\n".join([f"{HEAD},{columns}", *(f"S,0417,{row}" for row in rows)])
    return read_manifests("m.csv", text.encode()).manifests[0].cartons


def faults(columns: str, *rows: str) -> list[str]:
    with pytest.raises(ManifestFaults) as refused:
        cartons(columns, *rows)
    return [str(fault) for fault in refused.value.faults]


def test_pounds_and_inches_become_kilograms_and_centimetres() -> None:
    # NIST Special Publication 811, appendix B: 1 lb is 0.45359237 kg, 1 in is 2.54 cm.
    carton = read("weight_lb,length_in,width_in,height_in", "01,tray,10,20,10.5,5")
    assert (carton.weight_kg, carton.length_cm, carton.width_cm, carton.height_cm) == (4.536, 50.8, 26.67, 12.7)


def test_each_row_may_have_its_own_unit_and_not_both() -> None:
    columns = "weight_kg,weight_lb"
    assert [c.weight_kg for c in cartons(columns, "01,tray,4.5,", "02,tray,,10")] == [4.5, 4.536]
    assert faults(columns, "01,tray,4.5,10") == [
        "line 2, column 6 (weight_lb): weight_lb 10 is given beside weight_kg 4.5; keep one of the two in a row"
    ]


def test_rows_of_a_carton_agree_in_pounds_too() -> None:
    assert faults("weight_lb", "01,tray,10", "01,tray,11") == [
        "line 3, column 5 (weight_lb): carton '01' has weight_lb '11' here; line 2 says '10'"
    ]


def test_a_carton_has_as_many_numbers_as_its_labels_show() -> None:
    carton = read("sscc,barcode,tracking,tracking_2", "01,tray,195200000000000018,B1,1Z5; 1Z6,JD7")
    assert carton.numbers == ("1Z5", "1Z6", "JD7")
    assert carton.codes == ("195200000000000018", "B1", "1Z5", "1Z6", "JD7")


def test_numbers_come_back_from_the_written_file() -> None:
    text = f"{HEAD},tracking,item,item_numbers\nS,1,01,tray,A;B,I,0400638133393;77\n"
    manifests = read_manifests("m.csv", text.encode()).manifests
    assert read_manifests("again.csv", write_manifest_csv(manifests).encode()).manifests == manifests


def test_the_visit_may_be_called_by_either_name_and_not_by_both() -> None:
    def day(columns: str, cells: str) -> str:
        text = f"{HEAD},{columns}\nS,1,01,tray,{cells}\n"
        return str(read_manifests("m.csv", text.encode()).manifests[0].dispatch_date)

    assert day("visit_date", "2026-03-09") == day("dispatch_date", "2026-03-09") == "2026-03-09"
    assert "the visit is on 2026-03-09 here and on 2026-03-10 in dispatch_date; keep one of the two" in "".join(
        faults("visit_date,dispatch_date", "01,tray,2026-03-09,2026-03-10")
    )


@pytest.mark.parametrize(
    "written", ["195200000000000018", "(00)195200000000000018", "00195200000000000018", "(00) 1 9520000 000000001 8"]
)
def test_an_sscc_may_be_written_as_labels_print_it(written: str) -> None:
    assert str(read("sscc", f"01,tray,{written}").sscc) == "195200000000000018"


@pytest.mark.parametrize("written", ["1.952E+17", "1,952E+17", "1.95200000000000E+17"])
def test_an_sscc_that_a_spreadsheet_rounded_is_refused_with_the_remedy(written: str) -> None:
    (fault,) = faults("sscc", f'01,tray,"{written}"')
    assert "was damaged by a spreadsheet, its last digits are lost; format the column as text" in fault


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("weight", ": its unit is not given or not accepted; write weight_kg or weight_lb"),
        ("weight_g", ": its unit is not given or not accepted; write weight_kg or weight_lb"),
        ("Weight (oz)", ": its unit is not given or not accepted; write weight_kg or weight_lb"),
        ("length_mm", ": its unit is not given or not accepted; write length_cm or length_in"),
        ("height", ": its unit is not given or not accepted; write height_cm or height_in"),
        ("weight_kgs", "; did you mean 'weight_kg'?"),
        ("length_inch", "; did you mean 'length_in'?"),
    ],
)
def test_a_measure_of_another_unit_is_never_taken_for_one_that_is_known(heading: str, words: str) -> None:
    (fault,) = faults(f"barcode,{heading}", "01,tray,B,5")
    assert fault.endswith(f"column {heading!r} is not known{words}")


def test_a_measure_beside_the_one_that_is_used_is_left_out_in_words() -> None:
    assert read("barcode,weight_kg,weight", "01,tray,B,5,9").weight_kg == 5.0


@pytest.mark.parametrize("column", ["barcode", "tracking", "tracking_2", "item", "item_numbers", "outer"])
@pytest.mark.parametrize("written", ["7.76613E+11", "7,76613E+11", "8E+11"])
def test_a_number_that_a_spreadsheet_rounded_is_refused_in_every_column_of_numbers(column: str, written: str) -> None:
    (fault,) = faults(column, f'01,tray,"{written}"')
    assert f"({column})" in fault
    assert f"{written!r} was damaged by a spreadsheet, its last digits are lost; format the column as text" in fault


@pytest.mark.parametrize("written", ["12E4", "E+11", "1E5", "KX-8E+11", "2.5E-3"])
def test_a_number_that_only_looks_a_little_like_that_is_a_number(written: str) -> None:
    assert read("barcode", f"01,tray,{written}").barcode == written


@pytest.mark.parametrize("written", ["195200000000000015", "00195200000000000015", "(00)195200000000000015"])
def test_a_wrong_check_digit_is_said_however_the_sscc_is_written_with_what_to_do(written: str) -> None:
    (fault,) = faults("sscc", f"01,tray,{written}")
    assert "SSCC '195200000000000015' has check digit 5; its first 17 digits give 8" in fault
    assert fault.endswith("; where the label shows exactly this number, put it into the column barcode")


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("1,000", "; write 1000 or 1, whichever is meant"),
        ("1.000", "; write 1000 or 1, whichever is meant"),
        ("1,234,567", "; write 1234567"),
        ("1 000", "; write 1000"),
        ("24.0", "; write 24"),
        ("1,5", ""),
    ],
)
def test_a_quantity_with_a_mark_in_it_is_never_guessed_by_a_thousand(written: str, hint: str) -> None:
    (fault,) = faults("item,qty", f'01,tray,I,"{written}"')
    assert fault.endswith(f"is not a whole number of at least 1{hint}")


def test_a_parcel_number_is_enough_to_tell_a_carton_by() -> None:
    rows = "shipment,store,carton,kind,tracking\nP-1,0417,1,tray,1Z999AA10123456784\nP-1,0417,2,tray,\n"
    warned = [str(warning) for warning in read_manifests("m.csv", rows.encode()).warnings]
    assert [words for words in warned if "only its printed number" in words] == [
        "line 3: carton '2' has no sscc, no barcode and no address: only its printed number can match it"
    ]
