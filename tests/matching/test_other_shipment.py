"""A printed number is not proof, since every sibling shipment has it; and a pile of another shipment says so."""

from dataclasses import replace

from receiving.matching import reconcile
from receiving.model import LabelRead, Manifest, ReadAssigned
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import names, told
from tests.spoken import in_words


def shipment(name: str, store: str, first: int) -> Manifest:
    cartons = [carton(f"{n:02}", (n, 1), code=first + n) for n in range(1, 9)]
    return manifest(*cartons, carton("09", code=0, barcode="KIT-09"), shipment=name, store=store)


OURS, THEIRS = shipment("SH-1", "0417", 1000), shipment("SH-2", "0422", 2000)


def labels(first: int, count: int) -> list[LabelRead]:
    return [read(n, sscc=sscc(first + n)) for n in range(1, count + 1)]


def test_the_labels_of_another_open_shipment_say_whose_pile_it_is() -> None:
    found = reconcile(OURS, labels(2000, 5), others=[THEIRS]).looks_like
    assert found is not None
    assert (found.shipment, found.store, found.labels, found.own) == ("SH-2", "0422", 5, 0)
    assert found.log_odds > 7


def test_a_stray_or_two_among_our_own_labels_are_strays() -> None:
    assert reconcile(OURS, labels(2000, 2), others=[THEIRS]).looks_like is None
    ours = [read(n + 100, sscc=sscc(1000 + n)) for n in range(1, 4)]
    assert reconcile(OURS, [*labels(2000, 5), *ours], others=[THEIRS]).looks_like is None


def test_in_another_shipments_pile_print_and_shared_codes_receive_nothing() -> None:
    torn = [
        read(21, "CARTON 07", symbology="", carton="07"),
        read(22, address=at(8, 1), photo="p", label=1),
        read(23, "6 OF 9", symbology="", carton_n=6, carton_total=9),
        read(24, barcode="KIT-09"),
    ]
    result = reconcile(OURS, [*labels(2000, 5), *torn], others=[THEIRS])
    assert (names(result.received), result.questions) == ([], ())
    assert [len(unclear.read_ids) for unclear in result.unclear] == [1, 1, 1, 1]
    assert "SH-2" in in_words(told(result, 21))
    assert names(reconcile(OURS, torn, others=[THEIRS]).received) == ["06", "07", "08", "09"]


def test_a_of_another_shipment_shipment_is_the_one_thing_that_is_asked() -> None:
    """A relabelled carton whose barcode both have, and a slip of the keys, are not questions beside it."""
    relabelled = [
        read(31, sscc=sscc(7000), barcode="KIT-09", photo="q", label=1),
        read(32, f"00{sscc(1003)}"[:-2] + "9", symbology=""),
    ]
    alone = reconcile(OURS, relabelled, others=[THEIRS])
    assert len(alone.questions) == 1
    result = reconcile(OURS, [*labels(2000, 5), *relabelled], others=[THEIRS])
    assert result.looks_like is not None
    assert (names(result.received), result.questions) == ([], ())
    assert "SH-2" in in_words(told(result, 31))
    assert f"00{sscc(1003)}"[3:-2] + "9" in in_words(told(result, 32))
    assert "SH-2" in in_words(told(result, 32))


def test_in_another_shipments_pile_a_persons_word_stays_and_so_does_what_only_we_have() -> None:
    shared, own = read(24, barcode="KIT-09"), read(25, "CARTON 07", symbology="", carton="07")
    placed = ReadAssigned("n1", NOON, "Ana", shared.read_id, "09")
    ours = replace(OURS, cartons=(*OURS.cartons, carton("10", code=0, barcode="LAMP-10")))
    reads = [*labels(2000, 6), shared, own, read(26, barcode="LAMP-10")]
    result = reconcile(ours, reads, [placed], others=[THEIRS])
    assert result.looks_like is not None
    assert names(result.received) == ["09", "10"]
    assert names(reconcile(ours, reads, others=[THEIRS]).received) == ["10"]


def test_the_more_strays_a_pile_has_the_less_a_printed_number_says() -> None:
    torn = read(99, "CARTON 08", symbology="", carton="08")
    own = [read(n + 100, sscc=sscc(1000 + n)) for n in range(1, 4)]
    assert "08" in names(reconcile(OURS, [*own, torn], others=[THEIRS]).received)
    unknown = [read(n + 200, sscc=sscc(9000 + n)) for n in range(1, 7)]
    result = reconcile(OURS, [*own, *unknown, torn], others=[THEIRS])
    assert "08" not in names(result.received)
    assert [q.cartons for q in result.questions] == [("08",)]


def test_a_code_and_a_printed_number_of_different_cartons_are_a_question() -> None:
    label = [read(1, sscc=sscc(1001), photo="p", label=1), read(2, "CARTON 02", carton="02", photo="p", label=1)]
    assert [q.cartons for q in reconcile(OURS, label).questions] == [("01", "02")]


def test_a_shared_code_on_a_label_for_another_store_is_that_stores_carton() -> None:
    label = [read(1, barcode="KIT-09", photo="p", label=1), read(2, "STORE 0422", store="0422", photo="p", label=1)]
    result = reconcile(OURS, label, others=[THEIRS])
    assert (names(result.received), [over.store for over in result.extra]) == ([], ["0422"])
