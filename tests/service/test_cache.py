"""What was worked out is kept while it is true, and no more of it than was said."""

from receiving import service
from receiving.model import Place, Source
from receiving.service.context import Context
from receiving.service.planning import Cache
from receiving.service.snapshot import snapshot


def test_a_value_is_kept_for_its_version_alone() -> None:
    kept: Cache[str] = Cache(2)
    kept.put("S-1", "1", "one")
    assert kept.get("S-1", "1") == "one"
    assert kept.get("S-1", "2") is None
    assert kept.get("S-2", "1") is None


def test_what_was_not_asked_for_longest_goes_first() -> None:
    kept: Cache[str] = Cache(2)
    for name in ("S-1", "S-2"):
        kept.put(name, "1", name)
    assert kept.get("S-1", "1") == "S-1"
    kept.put("S-3", "1", "S-3")
    assert [kept.get(name, "1") for name in ("S-1", "S-2", "S-3")] == ["S-1", None, "S-3"]
    assert len(kept) == 2


def test_one_more_read_leaves_every_other_shipment_as_it_was_worked_out(ctx: Context) -> None:
    def worked_out() -> dict[str, object]:
        with ctx.store() as store:
            return {record.shipment: snapshot(ctx, store, record) for record in store.shipments()}

    before = worked_out()
    service.add_scan(ctx, "S-1", "00395200000000000012", place=Place.DOCK, by="Ana", source=Source.SCANNER)
    after = worked_out()
    assert after["S-1"] is not before["S-1"]
    assert after["S-2"] is before["S-2"]


def test_the_list_follows_what_is_stored(ctx: Context) -> None:
    assert [row.here for row in service.list_shipments(ctx)] == [0, 0]
    service.add_scan(ctx, "S-1", "00395200000000000012", place=Place.DOCK, by="Ana", source=Source.SCANNER)
    assert {row.shipment: row.here for row in service.list_shipments(ctx)} == {"S-1": 1, "S-2": 0}
    service.add_note(ctx, "S-2", "carton_seen", by="Ana", carton="09")
    assert {row.shipment: row.here for row in service.list_shipments(ctx)} == {"S-1": 1, "S-2": 1}
