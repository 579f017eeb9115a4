"""Master data kept on the page: saved with every fault named, never over somebody else's change, always undone."""

import pytest

from receiving import service
from receiving.errors import Conflict, FileFaults, LayoutFaults, NotFound, PatternFaults
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest
from receiving.service.masterdata import propose_layout
from tests.service.conftest import LAYOUT

PATTERN = """\
[[pattern]]
name = "bay sticker"
regex = 'PLACE (?P<column>\\d+)-(?P<row>\\d+)'
"""
KIT = "item,section,column,row\nT-1,Harbor,1,1\nT-2,Harbor,2,1\n"


def test_patterns_are_saved_and_reset_to_the_shipped_ones(ctx: service.Context) -> None:
    shipped = service.get_text(ctx, service.PATTERNS)
    assert len(service.save_text(ctx, service.PATTERNS, "patterns", PATTERN, follows=0)) == 1
    assert service.get_text(ctx, service.PATTERNS) == service.StoredText(PATTERN, shipped=False)
    service.reset_text(ctx, service.PATTERNS, follows=1)
    assert service.get_text(ctx, service.PATTERNS) == shipped
    assert [version.text for version in service.list_text_versions(ctx, service.PATTERNS)] == [PATTERN, shipped.text]


def test_a_saved_pattern_reads_labels_and_the_shipped_ones_read_them_again_after_a_reset(ctx: service.Context) -> None:
    service.save_text(ctx, service.PATTERNS, "patterns", PATTERN, follows=0)
    assert service.try_patterns(service.get_text(ctx, service.PATTERNS).text, "PLACE 3-2").claim.address == Address(
        "", 3, 2
    )
    service.reset_text(ctx, service.PATTERNS, follows=1)
    assert service.try_patterns(service.get_text(ctx, service.PATTERNS).text, "COL 3 ROW 2").claim.address == Address(
        "", 3, 2
    )


def test_patterns_with_a_fault_leave_those_in_use(ctx: service.Context) -> None:
    service.save_text(ctx, service.PATTERNS, "patterns", PATTERN, follows=0)
    with pytest.raises(PatternFaults):
        service.save_text(ctx, service.PATTERNS, "patterns", PATTERN.replace("(?P<row>", "(?P<shelf>"), follows=1)
    assert service.get_text(ctx, service.PATTERNS).text == PATTERN


def test_who_saves_second_is_told_and_overwrites_nothing(ctx: service.Context) -> None:
    service.save_text(ctx, service.PATTERNS, "patterns", PATTERN, follows=0)
    with pytest.raises(Conflict, match="Somebody else saved this"):
        service.save_text(ctx, service.PATTERNS, "patterns", "", follows=0)
    with pytest.raises(Conflict):
        service.reset_text(ctx, service.PATTERNS, follows=0)
    with pytest.raises(Conflict):
        service.save_text(ctx, service.name_layout("0417"), "layout", LAYOUT.replace("122", "120"), follows=0)
    assert (service.get_text(ctx, service.PATTERNS).text, service.get_layout_text(ctx, "0417")) == (PATTERN, LAYOUT)


def test_a_layout_is_saved_as_the_next_version(ctx: service.Context) -> None:
    wider = LAYOUT.replace("width_cm = 122", "width_cm = 91.5")
    assert service.save_text(ctx, service.name_layout("0417"), "layout", wider, follows=1).bays[0].width_cm == 91.5
    assert service.get_value(ctx, service.name_layout("0417")).bays[0].width_cm == 91.5
    assert [(v.number, v.text) for v in service.list_text_versions(ctx, service.name_layout("0417"))] == [
        (1, LAYOUT),
        (2, wider),
    ]


def test_a_layout_of_another_store_is_refused_at_the_line_of_its_id(ctx: service.Context) -> None:
    with pytest.raises(LayoutFaults) as caught:
        service.save_text(ctx, service.name_layout("0422"), "layout", LAYOUT, follows=0)
    (fault,) = caught.value.faults
    assert str(fault) == "line 2 (id): id '0417' is another store; this page keeps the layout of store '0422'"
    assert service.get_value(ctx, service.name_layout("0422")) is None


def test_a_kit_is_saved_and_taken_away(ctx: service.Context) -> None:
    assert service.get_value(ctx, service.KIT) is None
    service.save_text(ctx, service.KIT, "kit", KIT, follows=0)
    assert [place.address for place in service.get_value(ctx, service.KIT).places] == [
        Address("Harbor", 1, 1),
        Address("Harbor", 2, 1),
    ]
    assert service.save_text(ctx, service.KIT, "kit", " \n", follows=1) is None
    assert (service.get_value(ctx, service.KIT), service.get_text(ctx, service.KIT).text) == (None, "")
    assert [version.text for version in service.list_text_versions(ctx, service.KIT)] == [KIT, ""]


def test_a_kit_with_faults_names_each_and_is_not_stored(ctx: service.Context) -> None:
    with pytest.raises(FileFaults) as caught:
        service.save_text(ctx, service.KIT, "kit", KIT.replace("1,1", "0,1").replace("2,1", "2,"), follows=0)
    assert [fault.line for fault in caught.value.faults] == [2, 3]
    assert service.get_value(ctx, service.KIT) is None


def test_a_layout_is_proposed_from_what_hangs_in_the_store(ctx: service.Context) -> None:
    proposal = service.get_layout_proposal(ctx, "0422")
    layout = service.import_layout(ctx, "layout.toml", proposal.text.encode())
    assert [(bay.bay, bay.section, bay.columns) for bay in layout.bays] == [("B1", "Harbor", (1,))]
    assert "Up to 3 columns hang in a bay" in str(proposal.assumed[0])
    with pytest.raises(NotFound, match="'0999'"):
        service.get_layout_proposal(ctx, "0999")


def carton(number: int, *places: Address, section: str = "") -> Carton:
    lines = [ContentLine(place.section, place) for place in places] or [ContentLine(section, item="GUIDE")]
    return Carton(f"{number:02d}", CartonKind.TRAY, contents=tuple(lines))


def test_every_address_of_a_manifest_gets_one_bay_in_the_proposed_layout() -> None:
    columns = (1, 2, 3, 4, 7, 20)
    places = [Address("Harbor", column, row) for column in columns for row in (1, 2)]
    cartons = [carton(n, place) for n, place in enumerate(places, 1)]
    cartons += [carton(50, Address("HARBOR", 2, 1)), carton(51, section="Moss"), carton(52, Address("", 1, 1))]
    layout = propose_layout("0417", [Manifest("S-1", "0417", tuple(cartons))])
    assert [(bay.section, bay.columns) for bay in layout.bays] == [
        ("Harbor", (1, 2, 3)),
        ("Harbor", (4, 5, 6)),
        ("Harbor", (7, 8, 9)),
        ("Harbor", (19, 20)),
        ("Moss", (1,)),
        ("Section", (1,)),
    ]
    assert all(layout.bay_of(place) for place in places)
    assert [bay.order for bay in layout.bays] == [1, 2, 3, 4, 5, 6]


def test_no_bay_is_proposed_where_nothing_names_a_place() -> None:
    assert propose_layout("0417", [Manifest("S-1", "0417", (carton(1),))]).bays == ()


def test_an_earlier_manifest_is_downloaded_as_it_was(ctx: service.Context) -> None:
    first = service.make_manifest_csv(ctx, "S-1")
    service.import_manifest(ctx, "second.csv", first.replace(",Harbor,2,1,", ",Harbor,2,4,").encode())
    assert service.make_manifest_csv(ctx, "S-1", 1) == first
    assert "2,4" in service.make_manifest_csv(ctx, "S-1")
    with pytest.raises(NotFound, match="no revision 7"):
        service.make_manifest_csv(ctx, "S-1", 7)


def test_stores_without_a_layout_stand_first(ctx: service.Context) -> None:
    both = (service.StoreLayout("0422", ("S-2",), None), service.StoreLayout("0417", ("S-1",), 1))
    assert service.list_store_layouts(ctx) == service.StoreLayouts(both, 1, 1, 2, 1)
    assert service.list_store_layouts(ctx, "s-1") == service.StoreLayouts(both[1:], 1, 1, 1, 1)


def test_thousands_of_stores_come_a_page_at_a_time(ctx: service.Context) -> None:
    rows = [f"T-{n},9{n:03d},01,tray" for n in range(120)]
    service.import_manifest(ctx, "m.csv", "\n".join(["shipment,store,carton,kind", *rows]).encode())
    pages = [service.list_store_layouts(ctx, page=n) for n in (1, 2, 3, 99)]
    assert [(len(each.stores), each.number) for each in pages] == [(50, 1), (50, 2), (22, 3), (22, 3)]
    assert len({store.store for each in pages[:3] for store in each.stores}) == 122
    assert (pages[0].wanted, pages[0].without) == (122, 121)


def test_every_group_that_is_named_can_be_used_in_a_pattern() -> None:
    for group in service.list_pattern_groups():
        both = {"column": "row", "row": "column", "carton_total": "carton_n"}.get(group)
        regex = f"(?P<{group}>A)" + (f"(?P<{both}>B)" if both else "B")
        assert service.try_patterns(regex, "AB").faults == ()
