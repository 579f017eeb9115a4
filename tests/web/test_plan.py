"""The plan's page: drawings that hold every carton, order of work, lifts, and changes by hand."""

import re

import pytest

from receiving import service
from receiving.messages import message
from receiving.model import Caution, HandOver, LiftAdvice, Place, Source, Spot, Topic, Trip, ranked_cautions
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import LAYOUT, SHIPMENT, sscc
from web.pages.drawing import draw
from web.pages.lifting import lifting_part
from web.pages.staging import loading_words

ADDRESS = "/s/S-2041~2FA/plan"


def scan(ctx: service.Context, *serials: int) -> None:
    for serial in serials:
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)


def test_every_carton_of_the_plan_is_drawn_on_the_floor_of_its_bay(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 12)
    page = read(browser.get(ADDRESS).text)
    drawn = [e.text for e in page.all("text")]
    plan = service.get_shipment(ctx, SHIPMENT).plan
    for staging in plan.bays:
        assert set(staging.cartons) <= set(drawn)
    assert "Fewer cart trips are not possible." in page.text


def test_a_shipment_of_which_nothing_is_here_has_nothing_to_carry(browser: Browser) -> None:
    assert "Nothing to carry yet." in read(browser.get(ADDRESS).text).text


def test_a_stack_is_drawn_layer_by_layer_and_each_carton_once() -> None:
    spots = (
        Spot(("01",), 0, 0, 60, 40, 30, z_cm=60),
        Spot(("03", "04"), 0, 0, 60, 40, 60),
        Spot(("12",), 60, 0, 60, 40, 30),
    )
    drawing = draw("Cart", 120, 60, spots, {"12"}, message("layer 1, on the deck"))
    assert [[box.carton for box in layer.boxes] for layer in drawing.layers] == [["03", "12"], ["04"], ["01"]]
    assert [[box.carton for box in layer.below] for layer in drawing.layers] == [[], ["03", "12"], ["04"]]
    assert [str(layer.words) for layer in drawing.layers] == ["Layer 1, on the deck", "Layer 2", "Layer 3"]
    tones = {box.carton: box.tone.value for layer in drawing.layers for box in layer.boxes}
    assert tones == {"01": "plain", "03": "plain", "04": "plain", "12": "here"}
    assert str(drawing.layers[0].spoken) == "Cart, 120 × 60 cm, layer 1, on the deck: 03 and 12"


def test_a_number_fits_into_its_carton() -> None:
    """DejaVu and most sans faces: a digit is about 0.6 em wide, a line 1.1 em high."""
    spots = (Spot(("01",), 0, 0, 30, 4, 90), Spot(("CARTON-000123",), 50, 0, 40, 40, 20))
    for layer in draw("Floor", 122, 60, spots, set(), message("layer 1, on the floor")).layers:
        for box in layer.boxes:
            assert box.font_cm * 1.1 <= box.depth_cm
            assert len(box.carton) * box.font_cm * 0.6 <= box.width_cm


def test_no_carton_covers_another_of_its_layer() -> None:
    low, high = Spot(("05",), 0, 0, 100, 60, 20), Spot(("07",), 30, 10, 60, 50, 30, z_cm=20)
    layers = draw("Cart", 120, 60, (high, low), set(), "deck").layers
    assert [[box.carton for box in layer.boxes] for layer in layers] == [["05"], ["07"]]


def test_the_three_cautions_that_matter_are_said_and_the_others_are_folded() -> None:
    cautions = [
        Caution("Carton 1 is overhead.", "1", Topic.OVERHEAD),
        Caution("Carton 2 is heavy.", "2", Topic.HEAVY),
        Caution("Carton 3 is heavy.", "3", Topic.HEAVY),
        Caution("The aisle is narrow.", topic=Topic.AISLE),
        Caution("Keep exits clear.", topic=Topic.EXITS),
    ]
    ranked = ranked_cautions(cautions)
    assert ranked.first[0] == "Carton 1 is overhead."
    assert str(ranked.first[1]).startswith(
        "Cartons 2, 3 are heavy: two people (up to 30 kg, 66.1 lb) or a lifting aid."
    )
    assert ranked.first[2:] == ("The aisle is narrow.",)
    assert ranked.others == ("Keep exits clear.",)


def test_which_carton_is_loaded_first_and_what_is_lifted_off_is_said() -> None:
    trip = Trip(1, ("04", "07", "02"), 12, ("B1", "B2"), lifted_off=("02", "07"))
    assert str(loading_words(trip)) == (
        "Load 04 first, at the bottom, 02 last. Lift off 02 and 07 on the way: more comes out from under them."
    )


def test_a_change_by_hand_stays_and_can_be_undone(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    fields = {"kind": "staging_changed", "carton": "03", "trip": "1", "bay": "B2", "back": ADDRESS}
    page = read(browser.post("/s/S-2041~2FA/notes", fields, follow_redirects=True).text)
    assert "Plan changed: carton 03 on trip 1 to bay B2." in page.text
    assert [bay.bay for bay in service.get_shipment(ctx, SHIPMENT).plan.bays if "03" in bay.cartons] == ["B2"]
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post("/s/S-2041~2FA/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert [bay.bay for bay in service.get_shipment(ctx, SHIPMENT).plan.bays if "03" in bay.cartons] == ["B1"]


def test_the_plan_comes_on_paper_in_both_sizes(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    links = [
        e.attributes["href"] for e in read(browser.get(ADDRESS).text).all("a") if "plan.pdf" in e.attributes["href"]
    ]
    assert links == [f"{ADDRESS}.pdf?paper=A4", f"{ADDRESS}.pdf?paper=Letter"]
    a4, letter = (browser.get(link) for link in links)
    assert (a4.mimetype, letter.mimetype) == ("application/pdf", "application/pdf")
    assert a4.data.startswith(b"%PDF")
    assert b"595" in a4.data.partition(b"MediaBox")[2][:60]  # ISO 216: A4 is 210 mm = 595 points wide
    assert b"612" in letter.data.partition(b"MediaBox")[2][:60]  # ANSI Y14.1: Letter is 8.5 in = 612 points wide
    assert 'href="/s/S-2041~2FA/plan.pdf"' in browser.get("/s/S-2041~2FA/stage").text


def test_a_change_says_its_cost_before_it_is_kept_then_stays_until_it_is_undone(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, 3, 4)
    form = next(
        f for f in read(browser.get(ADDRESS).text).all("form", method="get") if "change" in f.attributes["action"]
    )
    asked = browser.get(form.attributes["action"], query_string={"carton": "04", "trip": "2", "bay": "B1"})
    check = read(asked.text)
    assert "Carton 04 (tray) rides on trip 2." in check.text
    assert "This change costs: +1 trip" in check.text
    assert service.get_shipment(ctx, SHIPMENT).notes == ()
    keep = {e.attributes["name"]: e.attributes["value"] for e in check.all("input", type="hidden")}
    assert "bay" not in keep
    plan = read(browser.post("/s/S-2041~2FA/notes", keep, follow_redirects=True).text)
    assert "Put here by hand." in plan.text
    assert [trip.cartons for trip in service.get_shipment(ctx, SHIPMENT).plan.trips] == [("03",), ("04",)]
    undo = {"kind": "note_withdrawn", "withdrawn": plan.all("input", name="withdrawn")[0].attributes["value"]}
    browser.post("/s/S-2041~2FA/notes", undo)
    assert len(service.get_shipment(ctx, SHIPMENT).plan.trips) == 1
    assert "Put here by hand." not in read(browser.get(ADDRESS).text).text


def test_a_change_to_what_is_planned_already_keeps_it_there(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    page = read(browser.get(f"{ADDRESS}/change?carton=03&trip=1&bay=B1").text)
    assert "Carton 03 (tray) rides on trip 1 and stands at bay B1." in page.text
    assert "This change costs nothing." in page.text


def test_a_change_that_brings_a_caution_says_so(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    page = read(browser.get(f"{ADDRESS}/change?carton=03&trip=1&bay=B7").text)
    assert "Take care" in page.text
    assert "bay B7, which the layout does not have" in page.text
    part = browser.get(f"{ADDRESS}/change?carton=03&trip=1&bay=B7", headers={"X-Part": "change"}).text
    assert "<html" not in part
    assert "Keep it like this" in part


def test_the_cost_of_a_change_that_cannot_be_is_refused(browser: Browser) -> None:
    for query, words in (("carton=77&trip=1", "Carton '77' is not on the manifest"), ("carton=03&trip=x", "trip")):
        refused = browser.get(f"{ADDRESS}/change?{query}")
        assert refused.status_code == 400
        assert words in read(refused.text).text


def test_a_wish_that_the_plan_cannot_keep_is_said_beside_the_carton(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 4)
    for carton in ("03", "04"):
        service.add_note(ctx, SHIPMENT, "carton_moved", by="Ada", carton=carton, bay="B1", trip=1)
    scan(ctx, 5)
    service.add_note(ctx, SHIPMENT, "staging_changed", by="Ada", carton="05", trip=1)
    for page in (browser.get(ADDRESS), browser.get("/s/S-2041~2FA/stage")):
        assert "Wanted on trip 1: that trip is driven already, full, or not needed." in read(page.text).text
    offered = [e.text for e in read(browser.get(ADDRESS).text).all("option") if e.text.isdigit()]
    assert offered == ["2", "3"], "a trip that was driven takes nothing more"


def test_the_page_says_how_much_of_each_aisle_stays_free(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    assert "The aisle is not measured: keep it free." in read(browser.get(ADDRESS).text).text
    measured = LAYOUT.replace('id = "0417"', 'id = "0417"\nkeep_clear_cm = 112').replace(
        "order = 1", "order = 1\naisle_width_cm = 180"
    )
    service.import_layout(ctx, "layout.toml", measured.encode())
    text = read(browser.get(ADDRESS).text).text
    assert "Aisle: 140 cm (55.1 in) of 180 cm (70.9 in) stay free; at least 112 cm (44.1 in) must." in text


def test_the_page_says_for_each_heavy_carton_at_which_hand_over_and_what_lowers_it(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, 12)
    words = read(browser.get(ADDRESS).text).text
    assert "DHHS (NIOSH) Publication 94-110: for smooth two-handed lifts by one standing person" in words
    assert "two people lift it together" in words
    assert "open it and carry its contents in parts" in words
    for hand_over in ("Floor to cart", "Pallet to cart", "Cart to floor", "Cart to shelf"):
        assert re.search(hand_over + r": \d+\.\d kg \(\d+\.\d lb\), index \d\.\d", words)
    assert re.search(r"raise both ends to waist height \(75 cm, 29.5 in\): limit \d+\.\d kg", words)


def test_advice_that_is_the_same_for_each_carton_is_said_once() -> None:
    both = "two people lift it together"
    lifts = [
        LiftAdvice("1", HandOver.FLOOR_TO_CART, 20, 10, 2.0, (both, "raise it: limit 15.0 kg")),
        LiftAdvice("1", HandOver.CART_TO_FLOOR, 20, 5, 4.0, (both, "raise it: limit 14.0 kg")),
        LiftAdvice("2", HandOver.FLOOR_TO_CART, 9, 0, None, (both,)),
        LiftAdvice("3", HandOver.FLOOR_TO_CART, 9, 10, 0.9),
    ]
    part = lifting_part(lifts, {"1": "parts", "2": "tray"})
    assert str(part.always) == both
    assert [(line.carton, str(line.word), str(line.lower)) for line in part.lines] == [
        ("2", "not alone", ""),
        ("1", "not alone", "raise it: limit 14.0 kg"),
    ]
    assert tuple(map(str, part.lines[0].lifts)) == ("floor to cart: no lift of this kind is recommended",)
    assert tuple(map(str, part.lines[1].lifts)) == (
        "cart to floor: 5.0 kg (11.0 lb), index 4.0",
        "floor to cart: 10.0 kg (22.0 lb), index 2.0",
    )


def send(browser: Browser, page: str, button: str) -> None:
    """Press the button with these words on the plan's page."""
    form = next(f for f in read(page).all("form", method="post") if button in " ".join(f.text.split()))
    fields: dict[str, list[str]] = {}
    for each in (one for one in form.inside if one.attributes.get("type") == "hidden"):
        fields.setdefault(each.attributes["name"], []).append(each.attributes["value"])
    assert browser.post("/s/S-2041~2FA/notes", fields, follow_redirects=True).status_code == 200


def trips(ctx: service.Context) -> dict[int, set[str]]:
    return {trip.trip: set(trip.cartons) for trip in service.get_shipment(ctx, SHIPMENT).plan.trips}


def test_what_is_kept_or_moved_stays_while_more_cartons_are_read(browser: Browser, ctx: service.Context) -> None:
    for serial in (3, 4, 5, 6, 7):
        scan(ctx, serial)
    first = trips(ctx)[1]
    assert first == {"03", "04", "05", "06", "07"}
    send(browser, browser.get(ADDRESS).text, "Keep trip 1 as it is")
    assert "Kept as it is" in read(browser.get(ADDRESS).text).text
    for serial in (8, 9, 10, 11, 13):
        scan(ctx, serial)
        assert first <= trips(ctx)[1]
    snapshot = next(b for b in service.get_shipment(ctx, SHIPMENT).plan.bays if b.bay == "B1").cartons
    send(browser, browser.get(ADDRESS).text, "now at bay B1")
    assert first - {"03", "04", "05"} <= trips(ctx)[1], "what is still on the cart stays on its trip"
    assert "Under way" in read(browser.get(ADDRESS).text).text
    send(browser, browser.get(ADDRESS).text, "now at bay B2")
    driven = set(next(b for b in service.get_shipment(ctx, SHIPMENT).plan.bays if b.bay == "B1").moved)
    assert driven == {each for each in snapshot if each in {"03", "04", "05"}}
    for serial in (1, 2, 12):
        scan(ctx, serial)
        plan = service.get_shipment(ctx, SHIPMENT).plan
        assert min(trips(ctx)) == 2, "trip 1 is driven"
        assert driven <= set(next(b for b in plan.bays if b.bay == "B1").moved)
        assert not driven & set().union(*trips(ctx).values())


def test_a_trip_that_is_kept_can_be_loaded_anew(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 4)
    send(browser, browser.get(ADDRESS).text, "Keep trip 1 as it is")
    assert len(service.get_shipment(ctx, SHIPMENT).notes) == 2
    send(browser, browser.get(ADDRESS).text, "Let the plan load trip 1 again")
    page = read(browser.get(ADDRESS).text).text
    assert "Keep trip 1 as it is" in page
    assert "Put here by hand." not in page


ONE_BAY = LAYOUT[: LAYOUT.index('[[bay]]\nid = "B2"')]
ODD_LAYOUTS = {
    "one bay": (ONE_BAY, "no bay in the layout for section 'Moss & Fern'; ask the office or store management"),
    "no floor": (
        re.sub(r"staging_depth_cm = \d+", "staging_depth_cm = 0", LAYOUT),
        "no floor is kept free in front of bay B1, and no other bay has any left; bring it when it is set",
    ),
    "narrow aisles": (
        re.sub(r"(order = \d)", r"\1\naisle_width_cm = 80", LAYOUT),
        "No floor in front of bay B1: its aisle is 80 cm (31.5 in) wide, and 91.5 cm (36 in) must stay free.",
    ),
    "sections of another store": (
        LAYOUT.replace("Harbor Lane", "Pier").replace("Moss & Fern", "Dune"),
        "no bay in the",
    ),
    "a tiny cart": (
        LAYOUT.replace("deck_length_cm = 120", "deck_length_cm = 20").replace(
            "deck_width_cm = 60", "deck_width_cm = 10"
        ),
        "not fit the cart: two people carry",
    ),
}


@pytest.mark.parametrize("odd", ODD_LAYOUTS)
def test_a_plan_for_an_odd_layout_says_what_is_the_matter_on_the_page_and_on_paper(
    browser: Browser, ctx: service.Context, odd: str
) -> None:
    text, words = ODD_LAYOUTS[odd]
    service.import_layout(ctx, "layout.toml", text.encode())
    for stage in ((), (3, 4, 9, 12, 13)):
        scan(ctx, *stage)
        page = browser.get(ADDRESS)
        assert page.status_code == 200
        assert browser.get(f"{ADDRESS}.pdf?paper=A4").data.startswith(b"%PDF")
    assert words in read(page.text).text
    assert browser.get(f"{ADDRESS}/change?carton=03&trip=1&bay=B1").status_code == 200


def test_without_a_layout_the_page_leads_to_one_and_still_plans_trips(browser: Browser, ctx: service.Context) -> None:
    service.add_scan(ctx, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    page = read(browser.get("/s/S-2055/plan").text)
    assert "There is no layout for store 0422" in page.text
    assert "1 cart trip" in page.text
    assert browser.get("/s/S-2055/plan.pdf").data.startswith(b"%PDF")
    assert browser.get("/s/S-2055/plan/change?carton=01&trip=2").status_code == 200
