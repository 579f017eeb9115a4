"""The kit's new places go into manifests that were imported before: seen first, all or none, and undone by revision."""

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import Address

KIT = "item,section,column,row\nT-1,Harbor,5,1\nT-2,Harbor,2,1\n"


def with_kit(ctx: service.Context, text: str = KIT) -> service.KitMoves:
    service.save_text(ctx, service.KIT, "kit", text, follows=len(service.list_text_versions(ctx, service.KIT)))
    return service.preview_kit_moves(ctx)


def test_without_a_kit_nothing_moves(ctx: service.Context) -> None:
    assert service.preview_kit_moves(ctx).moves == ()


def test_an_item_with_one_place_goes_there_in_every_shipment(ctx: service.Context) -> None:
    found = with_kit(ctx)
    assert [(move.shipment, move.store, move.follows) for move in found.moves] == [
        ("S-1", "0417", 1),
        ("S-2", "0422", 1),
    ]
    assert tuple(map(str, found.moves[0].changes)) == (
        "Carton 02 changed: no longer holds 1 of T-1 for Harbor, column 1, row 1; "
        "now holds 1 of T-1 for Harbor, column 5, row 1.",
    )
    assert service.apply_kit_moves(ctx, ["S-1", "S-2"], seen=found.seen) == 2
    for shipment, carton in (("S-1", "02"), ("S-2", "09")):
        manifest, revision = service.get_manifest(ctx, shipment)
        assert (revision, manifest.find(carton).addresses) == (2, (Address("Harbor", 5, 1),))
    assert service.preview_kit_moves(ctx).moves == ()
    service.restore_revision(ctx, "S-1", 1)
    assert service.get_manifest(ctx, "S-1")[0].find("02").addresses == (Address("Harbor", 1, 1),)


def test_shipments_that_were_not_chosen_stay(ctx: service.Context) -> None:
    found = with_kit(ctx)
    assert service.apply_kit_moves(ctx, ["S-2"], seen=found.seen) == 1
    assert service.get_manifest(ctx, "S-1")[1] == 1


def test_an_item_with_several_places_is_left_to_a_person(ctx: service.Context) -> None:
    found = with_kit(ctx, KIT + "T-1,Harbor,6,1\n")
    assert found.moves[0].changes == ()
    (unclear,) = map(str, found.moves[0].unclear)
    assert unclear == "Carton 02: T-1 hangs in 2 places of the kit, not at Harbor, column 1, row 1."
    with pytest.raises(BadRequest, match="moves nothing in shipment 'S-1'"):
        service.apply_kit_moves(ctx, ["S-1"], seen=found.seen)
    assert with_kit(ctx, KIT + "T-1,Harbor,1,1\n").moves == ()


def test_what_was_not_seen_is_not_stored(ctx: service.Context) -> None:
    found = with_kit(ctx)
    with_kit(ctx, KIT.replace("5,1", "4,1"))
    with pytest.raises(Conflict, match="changed since you looked"):
        service.apply_kit_moves(ctx, ["S-1"], seen=found.seen)
    assert service.get_manifest(ctx, "S-1")[1] == 1


@pytest.mark.parametrize(("chosen", "words"), [([], "No shipment was chosen"), (["S-9"], "nothing in shipment 'S-9'")])
def test_a_choice_that_moves_nothing_is_named(ctx: service.Context, chosen: list[str], words: str) -> None:
    found = with_kit(ctx)
    with pytest.raises(BadRequest, match=words):
        service.apply_kit_moves(ctx, chosen, seen=found.seen)
