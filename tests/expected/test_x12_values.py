"""X12 856, value by value: what each segment gives the manifest, and the limits, each from both sides.

Written from ASC X12 856 (004010): MEA, PO4, TD1, TD5, REF, DTM, N1, SN1, PID, CTT, and X12.5 for the envelope. Factors
of units are those of NIST Special Publication 811, appendix B.
"""

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import ManifestFile, read_manifests, write_manifest_csv
from receiving.expected.edi import DEEPEST, MAX_SEGMENT
from receiving.expected.edi_codes import centimetres, kilograms, parse_number, whole_quantity
from receiving.expected.notice import MOST, MOST_IN_FILE, MOST_UNNUMBERED
from receiving.model import Carton, CartonKind
from tests.expected.edi_messages import STANDARD, isa, sscc, x12


def read(*parts: str) -> ManifestFile:
    """A notice of one shipment for store 1, with these segments behind its head."""
    return read_manifests("n.x12", x12(("BSN*00*W*20260301*0800", "HL*1**S", "N1*ST**92*1", *parts)))


def pack(*parts: str) -> Carton:
    """The one carton of a notice, with these segments in its pack."""
    (carton,) = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", *parts).manifests[0].cartons
    return carton


def notes(found: ManifestFile) -> str:
    return "\n".join([*map(str, found.warnings), *map(str, found.not_understood), *map(str, found.unused)])


def refers(*parts: str) -> tuple[tuple[str, str], ...]:
    return read(*parts, "HL*2*1*P", f"MAN*GM*{sscc(1)}").manifests[0].references


# --- weights and sizes ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "kg"),
    [
        ("10", "LB", 4.536),  # 4.535 923 7
        ("10", "LBR", 4.536),
        ("10", "LBS", 4.536),
        ("10", "01", 4.536),
        ("10", "KG", 10.0),
        ("10", "KGM", 10.0),
        ("10", "KGS", 10.0),
        ("10", "50", 10.0),
        ("1500", "GR", 1.5),
        ("1500", "GRM", 1.5),
        ("1500", "G", 1.5),
        ("16", "OZ", 0.454),
        ("16", "ONZ", 0.454),
        ("0.02", "TNE", 20.0),
        ("0.02", "MP", 20.0),
        ("10", "lb", 4.536),
        ("2,5", "KG", 2.5),
    ],
)
def test_a_measured_weight_is_the_cartons(value: str, unit: str, kg: float) -> None:
    for qualifier in ("G", "WT"):
        assert pack(f"MEA*PD*{qualifier}*{value}*{unit}").weight_kg == kg
    assert pack(f"PO4*1*****{value}*{unit}").weight_kg == kg
    assert pack(f"TD1*CTN*1****G*{value}*{unit}").weight_kg == kg


@pytest.mark.parametrize(
    ("value", "unit", "cm"),
    [
        ("20", "IN", 50.8),
        ("20", "INH", 50.8),
        ("2", "FT", 60.96),
        ("2", "FOT", 60.96),
        ("1", "YD", 91.44),
        ("1", "YRD", 91.44),
        ("60", "CM", 60.0),
        ("60", "CMT", 60.0),
        ("600", "MM", 60.0),
        ("600", "MMT", 60.0),
        ("0.6", "MR", 60.0),
        ("0.6", "MTR", 60.0),
        ("0.6", "M", 60.0),
    ],
)
def test_a_measured_size_is_the_cartons(value: str, unit: str, cm: float) -> None:
    for qualifier, name in (("LN", "length_cm"), ("WD", "width_cm"), ("HT", "height_cm")):
        sizes = {"length_cm": None, "width_cm": None, "height_cm": None, name: cm}
        found = pack(f"MEA*PD*{qualifier}*{value}*{unit}")
        assert {each: getattr(found, each) for each in sizes} == sizes
    found = pack(f"PO4*1*********{value}***{unit}")
    assert (found.length_cm, found.width_cm, found.height_cm) == (cm, None, None)


def test_a_pack_says_weight_and_all_three_sizes_in_one_segment() -> None:
    found = pack("PO4*1****CTN*22*LB*1.5*CF*20*10*5*IN")
    assert (found.weight_kg, found.length_cm, found.width_cm, found.height_cm) == (9.979, 50.8, 25.4, 12.7)


@pytest.mark.parametrize("value", ["0", "-1", "", "x", "1e3", "1.2.3"])
def test_what_is_no_weight_is_left_out_and_named(value: str) -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", f"MEA*PD*G*{value}*LB", f"PO4*1*****{value}*LB")
    assert found.manifests[0].cartons[0].weight_kg is None
    assert "MEA PD" in notes(found)


@pytest.mark.parametrize("unit", ["", "ZZ", "CM"])
def test_a_weight_in_no_unit_of_weight_is_left_out_and_named(unit: str) -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", f"MEA*PD*G*10*{unit}")
    assert found.manifests[0].cartons[0].weight_kg is None
    assert "MEA PD" in notes(found)


def test_a_measure_of_another_kind_or_without_a_package_changes_nothing() -> None:
    assert pack("MEA*PD*N*10*LB").weight_kg is None  # net
    found = read("MEA*PD*G*10*LB", "HL*2*1*P", f"MAN*GM*{sscc(1)}")
    assert found.manifests[0].cartons[0].weight_kg is None
    assert "MEA PD: 1 not used" in notes(found)


def test_of_two_weights_the_last_is_taken_and_both_are_said() -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", "MEA*PD*G*10*KG", "MEA*PD*G*12.5*KG")
    assert found.manifests[0].cartons[0].weight_kg == 12.5
    assert "a package has two measures of one kind; the last is taken: weight 10 and 12.5 kg" in notes(found)
    same = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", "MEA*PD*G*10*KG", "PO4*1*****10*KG")
    assert same.warnings == ()


def test_used_values_are_not_told_as_left_out() -> None:
    found = read(
        "HL*2*1*P", f"MAN*GM*{sscc(1)}", "MEA*PD*G*10*KG", "MEA*PD*LN*60*CM", "PO4*1*****10*KG", "TD1*CTN*1****G*10*KG"
    )
    assert "MEA" not in notes(found) and "TD1" not in notes(found)


@pytest.mark.parametrize(
    ("text", "number"),
    [("5", 5.0), ("-5", -5.0), ("0.25", 0.25), (",5", 0.5), ("5.", 5.0), ("1" * 12, 111111111111.0)]
    + [(wrong, None) for wrong in ("", ".", "-", "1" * 13, "0." + "1" * 13, "+5", "5 ", "1e2", "٣", "1.000,5")],
)
def test_numbers_have_twelve_digits_and_a_point_or_a_comma(text: str, number: float | None) -> None:
    assert parse_number(text) == number


def test_weights_are_to_the_gram_and_lengths_to_a_hundredth_of_a_millimetre() -> None:
    assert kilograms("1", "OZ") == 0.028
    assert kilograms("0.0004", "KG") is None, "less than half a gram is not a weight"
    assert kilograms("0.0006", "KG") == 0.001
    assert centimetres("0.333", "IN") == 0.846


@pytest.mark.parametrize(
    ("text", "quantity"),
    [
        ("24", 24),
        ("24.0", 24),
        ("24,0", 24),
        ("1", 1),
        ("0", None),
        ("0.5", None),
        ("1.5", None),
        ("-1", None),
        ("", None),
    ],
)
def test_a_quantity_is_whole_and_at_least_one(text: str, quantity: int | None) -> None:
    assert whole_quantity(text) == quantity


@pytest.mark.parametrize(("qty", "taken"), [(999_999_999, True), (1_000_000_000, False), (4_000_000_000, False)])
def test_a_quantity_beyond_what_a_table_may_hold_stands_in_the_description(qty: int, taken: bool) -> None:
    """What is read can be written as a table and read again."""
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*2*I", "LIN**VN*A", f"SN1**{qty}*EA", "PID*F****Tray")
    (manifest,) = found.manifests
    (line,) = manifest.cartons[0].contents
    assert (line.qty, line.description) == ((qty, "Tray") if taken else (None, f"Tray ({qty} EA)"))
    assert ("quantities are not whole numbers from 1 to 999,999,999" in notes(found)) != taken
    assert read_manifests("again", write_manifest_csv([manifest]).encode()).manifests == (manifest,)


@pytest.mark.parametrize("qty", ["1000000000", "00004000000000"])
def test_a_table_with_such_a_quantity_is_refused_and_says_why(qty: str) -> None:
    table = f"shipment,store,carton,kind,item,qty\nS1,0417,07,tray,A,{qty}\n"
    with pytest.raises(ManifestFaults, match="is more than 999,999,999; is it another column's"):
        read_manifests("m.csv", table.encode())
    fits = table.replace(qty, "999999999")
    assert read_manifests("m.csv", fits.encode()).manifests[0].cartons[0].contents[0].qty == 999_999_999


# --- references, carrier, dates ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("segment", "reference"),
    [
        ("REF*BM*4711", ("bill of lading", "4711")),
        ("REF*CN*4711", ("carrier reference", "4711")),
        ("REF*MB*4711", ("master bill of lading", "4711")),
        ("REF*PK*4711", ("packing list", "4711")),
        ("REF*PO*4711", ("order", "4711")),
        ("REF*VN*4711", ("vendor order", "4711")),
        ("REF*IA*4711", ("vendor number", "4711")),
        ("REF*DP*4711", ("department", "4711")),
        ("REF*LO*4711", ("load", "4711")),
        ("REF*SI*4711", ("shipper reference", "4711")),
        ("REF*AO*4711", ("appointment", "4711")),
        ("REF*2I*4711", ("tracking number", "4711")),
        ("REF*ZZ*4711", ("reference ZZ", "4711")),
        ("TD5*B*2*ABCD", ("carrier", "ABCD")),
        ("TD5*****Fast freight", ("routing", "Fast freight")),
        ("DTM*011*20260301", ("shipped", "2026-03-01")),
        ("DTM*017*20260302", ("delivery expected", "2026-03-02")),
        ("DTM*067*20260302", ("delivery expected", "2026-03-02")),
        ("DTM*002*20260303", ("delivery requested", "2026-03-03")),
        ("DTM*011*260301", ("shipped", "260301")),
        ("DTM*011*2026030A", ("shipped", "2026030A")),
    ],
)
def test_what_is_said_of_the_whole_shipment_is_a_reference_of_it(segment: str, reference: tuple[str, str]) -> None:
    assert refers(segment) == (reference,)
    found = read(segment, "HL*2*1*P", f"MAN*GM*{sscc(1)}")
    assert segment.partition("*")[0] not in "".join(map(str, found.unused)), "it was used"


@pytest.mark.parametrize("segment", ["REF*BM", "TD5*B*2", "DTM*999*20260301", "DTM*011", "PRF"])
def test_what_names_nothing_is_no_reference(segment: str) -> None:
    assert refers(segment) == ()


def test_a_date_below_the_shipment_is_not_the_shipments() -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", "DTM*011*20260301")
    assert found.manifests[0].references == ()
    assert "DTM 011: 1 not used" in notes(found)


def test_an_orders_numbers_go_with_its_cartons() -> None:
    order = ("HL*2*1*O", "PRF*PO-9", "REF*VN*V-1", "REF*ZZ*no", "HL*3*2*P", f"MAN*GM*{sscc(1)}")
    found = read(*order)
    assert found.manifests[0].references == (("order", "PO-9"), ("vendor order", "V-1"))
    assert "REF ZZ: 1 not used (no)" in notes(found)


# --- parties -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parties", "store"),
    [
        (("N1*ST**92*7", "N1*BY**92*8", "N1*Z7**92*9"), "9"),
        (("N1*ST**92*7", "N1*BY**92*8"), "8"),
        (("N1*OB**92*5", "N1*MA**92*6", "N1*ST**92*7"), "7"),
        (("N1*OB**92*5", "N1*MA**92*6"), "6"),
        (("N1*OB**92*5",), "5"),
        (("N1*SF**92*5",), "1"),
    ],
)
def test_an_order_is_for_its_mark_for_party_then_buyer_then_ship_to(parties: tuple[str, ...], store: str) -> None:
    found = read("HL*2*1*O", *parties, "HL*3*2*P", f"MAN*GM*{sscc(1)}")
    assert [manifest.store for manifest in found] == [store]


@pytest.mark.parametrize(
    ("parties", "store"),
    [
        (("N1*BY**92*8", "N1*ST**92*7", "N1*Z7**92*9"), "9"),
        (("N1*BY**92*8", "N1*ST**92*7"), "7"),
        (("N1*OB**92*5", "N1*MA**92*6", "N1*BY**92*8"), "8"),
    ],
)
def test_a_shipment_is_for_its_mark_for_party_then_ship_to_then_buyer(parties: tuple[str, ...], store: str) -> None:
    text = x12(("BSN*00*W*20260301*0800", "HL*1**S", *parties, "HL*2*1*P", f"MAN*GM*{sscc(1)}"))
    assert [manifest.store for manifest in read_manifests("n", text)] == [store]


def test_a_party_without_an_id_is_known_by_its_name_and_the_first_of_a_role_counts() -> None:
    text = x12(
        ("BSN*00*W*20260301*0800", "HL*1**S", "N1*ST", "N1*ST*Shop", "N1*ST**92*8", "HL*2*1*P", f"MAN*GM*{sscc(1)}")
    )
    found = read_manifests("n", text)
    assert [manifest.store for manifest in found] == ["Shop"]
    assert "N1 ST" in notes(found)


# --- goods ---------------------------------------------------------------------------------------------------------


def lines(*parts: str) -> list[tuple[str, int | None, str, str]]:
    carton = pack("HL*3*2*I", *parts)
    return [(line.item, line.qty, line.unit, line.description) for line in carton.contents]


def test_descriptions_of_a_line_are_joined() -> None:
    assert lines("LIN**VN*A", "SN1**2*EA", "PID*F****Tray", "PID*F****left") == [("A", 2, "EA", "Tray; left")]
    assert lines("LIN**VN*A", "SN1**2*EA", "PID*F") == [("A", 2, "EA", "")]


def test_a_second_line_in_one_level_is_a_line_of_its_own() -> None:
    assert lines("LIN**VN*A", "SN1**2*EA", "LIN**VN*B", "SN1**3*EA") == [("A", 2, "EA", ""), ("B", 3, "EA", "")]


def test_of_two_quantities_of_a_line_the_first_that_is_a_number_counts() -> None:
    assert lines("LIN**VN*A", "SN1**many*EA", "SN1**2*EA", "SN1**3*CA") == [("A", 2, "EA", "")]


@pytest.mark.parametrize(("ordered", "expected"), [("2", False), ("2.0", False), ("3", True), ("x", True)])
def test_a_difference_to_the_order_is_told(ordered: str, expected: bool) -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*2*I", "LIN**VN*A", f"SN1**2*EA**{ordered}*EA")
    warning = f"the shipper reports a difference to the order: {ordered} ordered, 2 shipped of A"
    assert (warning in notes(found)) == expected
    assert "SN1" not in "".join(map(str, found.unused))


def test_the_vendors_number_is_the_item_and_an_order_or_lot_is_none() -> None:
    (line,) = pack("HL*3*2*I", "LIN**UP*614141999996*IN*77*VN*A*LT*L1*SN*S1", "SN1**1*EA").contents
    assert (line.item, line.item_numbers) == ("A", ("614141999996", "77"))


@pytest.mark.parametrize(
    ("ctt", "expected"),
    [
        ("CTT*3*2", ()),
        ("CTT*3", ()),
        ("CTT*2*2", ("CTT01",)),
        ("CTT*3*2.1", ("CTT02",)),
        ("CTT*3*2.0000009", ()),
        ("CTT*3*2.000002", ("CTT02",)),
        ("CTT*x*y", ("CTT01", "CTT02")),
    ],
)
def test_totals_are_compared(ctt: str, expected: tuple[str, ...]) -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*2*I", "LIN**VN*A", "SN1**2*EA", ctt)
    assert [warning[:5] for warning in [str(w).rpartition(": ")[2] for w in found.warnings]] == list(expected)


# --- marks ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("qualifier", ["GM", "AA", "AI"])
def test_marks_that_are_ssccs(qualifier: str) -> None:
    (carton,) = read("HL*2*1*P", f"MAN*{qualifier}*00{sscc(1)}").manifests[0].cartons
    assert carton.sscc is not None and carton.sscc.digits == sscc(1)


@pytest.mark.parametrize("qualifier", ["CA", "SM", "R", "W", "MC"])
def test_the_number_that_people_read_names_the_carton(qualifier: str) -> None:
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}", f"MAN*{qualifier}*07*08")
    (carton,) = found.manifests[0].cartons
    assert carton.carton == "07"
    assert "08" in carton.codes


def test_a_mark_on_the_shipment_or_the_order_is_listed() -> None:
    why = "a mark of the whole shipment or order names no carton"
    for before in ((), ("HL*2*1*O",)):
        found = read(*before, f"MAN*GM*{sscc(7)}", "HL*9*1*P", f"MAN*GM*{sscc(1)}")
        assert [carton.carton for carton in found.manifests[0]] == [sscc(1)]
        assert f"MAN*GM*{sscc(7)}': {why}" in notes(found)


def test_a_mark_before_any_level_is_listed_and_breaks_nothing() -> None:
    text = x12(("BSN*00*W*20260301*0800", f"MAN*GM*{sscc(7)}", *STANDARD[1:]))
    found = read_manifests("n", text)
    assert len(found.manifests[0].cartons) == 3
    assert "names no carton" in notes(found)


# --- counts of packages --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("expected", "warned"),
    [("TD1*CTN*2", False), ("TD1*CTN*1", True), ("TD1*CTN*3", True), ("TD1*PLT*1", False), ("TD1**2", False)],
)
def test_the_packages_that_the_shipment_counts_are_those_that_are_listed(expected: str, warned: bool) -> None:
    found = read(expected, "HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*1*P", f"MAN*GM*{sscc(2)}")
    assert bool(found.warnings) == warned


@pytest.mark.parametrize("code", ["PLT", "SKD", "SKE"])
def test_pallets_are_counted_apart_from_what_stands_on_them(code: str) -> None:
    tree = ("HL*2*1*T", f"MAN*GM*{sscc(9)}", "HL*3*2*P", f"MAN*GM*{sscc(1)}")
    assert read(f"TD1*{code}*1", "TD1*CTN*1", *tree).warnings == ()
    assert f"TD1 counts 2 packages ({code}), the notice lists 1" in notes(read(f"TD1*{code}*2", *tree))


def test_the_count_of_an_order_is_that_of_its_packages() -> None:
    def order(n: int, counted: int) -> tuple[str, ...]:
        return (f"HL*{n}*1*O", f"TD1*CTN*{counted}", f"HL*{n + 1}*{n}*P", f"MAN*GM*{sscc(n)}")

    assert read(*order(2, 1), *order(4, 1)).warnings == ()
    assert "TD1 counts 2 packages (CTN), the notice lists 1" in notes(read(*order(2, 2), *order(4, 1)))


# --- limits, from both sides ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("cartons", "counted"), [(MOST, True), (MOST + 1, False)])
def test_a_range_names_ten_thousand_cartons_and_no_more(cartons: int, counted: bool) -> None:
    assert MOST == 10_000
    found = read("HL*2*1*P", f"MAN*GM*{sscc(1)}*{sscc(cartons)}")
    assert len(found.manifests[0].cartons) == (cartons if counted else 2)
    assert ("cannot be listed one by one; its two ends are kept" in notes(found)) != counted


def test_all_ranges_of_a_file_name_a_hundred_thousand_cartons_and_no_more() -> None:
    assert MOST_IN_FILE == 100_000
    marks = [f"MAN*GM*{sscc(n * MOST + 1)}*{sscc((n + 1) * MOST)}" for n in range(11)]
    stores = ((f"HL*{n}*1*O", f"N1*BY**92*{n:04d}", f"HL*{n}P*{n}*P", mark) for n, mark in enumerate(marks, 2))
    found = read(*(part for store in stores for part in store))
    assert sum(len(manifest.cartons) for manifest in found.manifests) == MOST_IN_FILE + 2
    assert notes(found).count("cannot be listed one by one") == 1


@pytest.mark.parametrize(("loads", "made"), [(MOST_UNNUMBERED, MOST_UNNUMBERED), (MOST_UNNUMBERED + 1, 0), (0, 0)])
def test_a_count_stands_for_a_thousand_loads_and_no_more(loads: int, made: int) -> None:
    assert MOST_UNNUMBERED == 1_000
    found = read("HL*2*1*O", "HL*3*2*I", "LIN**VN*A", f"SN1**{loads or 1}*EA", f"CLD*{loads}*1*CTN")
    assert len(found.manifests[0].cartons) == made


@pytest.mark.parametrize("count", ["1.5", "-2", "x"])
def test_loads_are_counted_in_whole_numbers(count: str) -> None:
    found = read("HL*2*1*O", "HL*3*2*I", "LIN**VN*A", "SN1**4*EA", f"CLD*{count}*1*CTN")
    assert found.manifests[0].cartons == ()
    assert "CLD: 1 not used" in notes(found)


@pytest.mark.parametrize(("depth", "expected"), [(DEEPEST, False), (DEEPEST + 1, True)])
def test_levels_are_followed_to_forty(depth: int, expected: bool) -> None:
    assert DEEPEST == 40
    parts = [part for n in range(2, depth + 1) for part in (f"HL*{n}*{n - 1}*P", f"MAN*GM*{sscc(n)}")]
    found = read(*parts)
    assert len(found.manifests[0].cartons) == depth - 1
    assert ("levels are nested deeper than 40" in notes(found)) == expected


@pytest.mark.parametrize(("length", "ends"), [(MAX_SEGMENT - 100, True), (MAX_SEGMENT + 70_000, False)])
def test_a_segment_of_more_than_a_million_characters_has_no_terminator(length: int, ends: bool) -> None:
    data = x12((*STANDARD[:1], "NTE**" + "x" * length, *STANDARD[1:]))
    if ends:
        assert len(read_manifests("n", data).manifests[0].cartons) == 3
    else:
        with pytest.raises(ManifestFaults, match="no segment ends within 1,000,000 characters; the terminator '~'"):
            read_manifests("n", data)


@pytest.mark.parametrize(("kinds", "expected"), [(100, 100), (101, 101), (150, 101)])
def test_at_most_a_hundred_kinds_of_warnings_about_one_segment_are_told(kinds: int, expected: int) -> None:
    wrong = [part for n in range(kinds) for part in (f"HL*{n + 2}*1*O", f"TD1*CTN*{n + 5}")]
    found = read(*wrong, "HL*999*1*P", f"MAN*GM*{sscc(1)}")
    assert len(found.warnings) == expected
    assert ("more warnings of this kind were counted" in notes(found)) == (kinds > 100)


# --- the envelope --------------------------------------------------------------------------------------------------


def test_text_between_interchanges_is_listed_and_both_are_read() -> None:
    second = tuple(part.replace("WAVE7", "WAVE8") for part in STANDARD)
    found = read_manifests("n", x12(STANDARD) + b"regards\n" + x12(second, control=2) + b"--\n")
    assert [manifest.shipment for manifest in found] == ["WAVE7", "WAVE8"]
    assert "'regards" in notes(found) and "'--': " in notes(found)


def test_a_segment_outside_of_a_transaction_is_listed_but_for_acknowledgments() -> None:
    data = x12(STANDARD).replace(b"GS*SH", b"TA1*000000001*260301*0800*A*000~\nN9*ZZ*lost~\nGS*SH")
    found = read_manifests("n", data)
    assert "'N9*ZZ*lost': this segment is outside of a transaction set (ST ... SE)" in notes(found)
    assert "TA1" not in notes(found)


def test_segments_of_another_transaction_set_are_told_as_one() -> None:
    other = x12(STANDARD, STANDARD).replace(b"ST*856*0001", b"ST*861*0001")
    found = read_manifests("n", other)
    assert [manifest.shipment for manifest in found] == ["WAVE7"]
    assert len(found.not_understood) == 1


def test_levels_that_open_or_close_nothing_are_told() -> None:
    whole = x12(STANDARD)
    cases = {
        b"GS closes": (whole.replace(b"GE*1*1~\n", b""), "GS is not closed by GE"),
        b"no GS": (whole.replace(b"GS*SH*SHIPPER*FIELD*20260301*0800*1*X*004010~\n", b""), "ST is outside"),
        b"no ST": (whole.replace(b"GE*1*1~", b"GE*1*1~\nGE*1*1~"), "GE closes what was never opened"),
    }
    for data, expected in cases.values():
        found = read_manifests("n", data)
        assert len(found.manifests[0].cartons) == 3
        assert expected in notes(found), expected


@pytest.mark.parametrize("kind", ["T", "P"])
def test_a_tare_that_holds_packs_is_an_outer_box_and_a_pack_is_not(kind: str) -> None:
    found = read(f"HL*2*1*{kind}", f"MAN*GM*{sscc(9)}", "HL*3*2*P", f"MAN*GM*{sscc(1)}")
    outer, inner = found.manifests[0].cartons
    assert (outer.kind, inner.outer) == (CartonKind.OUTER, sscc(9))


def test_the_separators_are_those_of_the_header() -> None:
    assert isa("|", "^", "'")[3] == "|"
    data = x12(STANDARD, element="|", component="^", terminator="'")
    assert read_manifests("n", data).warnings == ()


def test_goods_that_are_named_behind_their_loads_are_in_them() -> None:
    found = read("HL*2*1*O", "HL*3*2*I", "SN1**4*EA", "CLD*2*2*CTN", "LIN**VN*A*UP*B")

    assert [[line.item for line in carton.contents] for carton in found.manifests[0].cartons] == [["A"], ["A"]]
    assert [carton.contents[0].item_numbers for carton in found.manifests[0].cartons] == [("B",), ("B",)]
