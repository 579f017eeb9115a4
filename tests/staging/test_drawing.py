"""The drawings are well-formed, say their states in words and patterns, and take nothing for markup."""

from xml.etree import ElementTree

from receiving.model import CartonKind
from receiving.staging import floor_plan_svg, plan_staging, section_elevation_svg, trip_card_svg
from tests.staging.shipments import CART, bay, carton, layout, manifest, reconciled

SVG = "{http://www.w3.org/2000/svg}"
SHIPMENT = manifest(
    carton("01", (1, 1)), carton("02", (2, 1)), carton("03", (2, 2)), carton("04", (4, 2)), carton("05", (4, 2))
)
FOUND = reconciled(SHIPMENT, short="02 05", inside="03")


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_the_elevation_shows_each_position_with_state_in_class_pattern_and_word() -> None:
    root = ElementTree.fromstring(section_elevation_svg("Sol", SHIPMENT, FOUND, layout()))
    cells = {g.find(f"{SVG}title").text: g for g in root.iter(f"{SVG}g")}
    assert len(cells) == 5 * 2
    assert cells["column 1, row 1: here, carton 01"].get("class") == "cell received"
    missing = cells["column 2, row 1: missing, carton 02"]
    assert [rect.get("fill") for rect in missing.iter(f"{SVG}rect")][1].endswith("-short)")
    inside = cells["column 2, row 2: inside, not seen, carton 03"]
    assert [rect.get("fill") for rect in inside.iter(f"{SVG}rect")][1].endswith("-inside)")
    assert "missing" in [t.text for t in missing.iter(f"{SVG}text")]
    assert cells["column 3, row 1: no carton"].get("class") == "cell none"
    patterns = {pattern.get("id") for pattern in root.iter(f"{SVG}pattern")}
    used = {r.get("fill")[5:-1] for r in root.iter(f"{SVG}rect") if r.get("fill").startswith("url(#")}
    assert used == patterns


def test_two_cartons_at_a_position_show_the_worse_state() -> None:
    assert "column 4, row 2: missing, carton 04, 05" in section_elevation_svg("Sol", SHIPMENT, FOUND)


def test_an_unknown_section_says_so() -> None:
    assert "No carton has an address here" in texts(section_elevation_svg("Nova", SHIPMENT, FOUND))


def test_every_drawing_has_a_title_a_description_and_no_colour_of_its_own_for_ink() -> None:
    plan = plan_staging(SHIPMENT, FOUND, layout())
    drawings = (
        section_elevation_svg("Sol", SHIPMENT, FOUND),
        floor_plan_svg(plan, layout()),
        trip_card_svg(plan.trips[0], CART),
    )
    for svg in drawings:
        root = ElementTree.fromstring(svg)
        assert root.get("role") == "img"
        title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
        assert title.text
        assert description.text
        assert {r.get("stroke") for r in root.iter(f"{SVG}rect")} == {"currentColor"}


def test_the_floor_plan_names_each_bay_and_each_staged_carton_once() -> None:
    plan = plan_staging(SHIPMENT, FOUND, layout())
    shown = texts(floor_plan_svg(plan, layout()))
    assert [shown.count(word) for word in ("Bay B1", "Bay B2", "01", "04", "02", "Aisle: keep clear")] == [
        1,
        1,
        1,
        1,
        0,
        1,
    ]


def test_the_trip_card_shows_all_its_cartons_also_those_across() -> None:
    shipment = manifest(
        *(carton(f"{i:02}", (1, i + 1)) for i in range(6)),
        carton("90", kind=CartonKind.HEADER, size=(120, 20, 15)),
    )
    plan = plan_staging(shipment, reconciled(shipment), layout())
    shown = texts(trip_card_svg(plan.trips[0], CART))
    assert sorted(shown[1:]) == sorted(plan.trips[0].cartons)


def test_names_are_text_and_never_markup() -> None:
    odd = layout(bay('<b id="x">&', "A<&>", 1))
    shipment = manifest(carton('"<i>', (1, 1), section="A<&>"))
    plan = plan_staging(shipment, reconciled(shipment), odd)
    for svg in (section_elevation_svg("A<&>", shipment, reconciled(shipment), odd), floor_plan_svg(plan, odd)):
        root = ElementTree.fromstring(svg)
        assert any('"<i>' in (element.text or "") for element in root.iter(f"{SVG}text"))
