"""Speed of matching: every shipment from scratch, and one more read, against the bare joins in pandas.

    nice python tests/bench/match_shipments.py [SHIPMENTS]

5,000 shipments of 20 cartons and 60 reads by default. pandas (needed for this script alone) joins the same reads to
the same cartons by shipment and SSCC, by shipment and barcode, and by shipment and address, once over all shipments
in one frame, and once shipment by shipment as a service would. It explains nothing, asks nothing, and leaves each
table as it is. Its frames are ready before its clock starts; a line of its own adds what building them from the same
values takes. Every read has texts of its own, as a database hands them over, for both sides. CPU seconds of one
process, in one run; the ratios are what to compare between machines. The state of every carton is worked out in the
first line; how each read was understood is worded when somebody looks, which the second line does for all of them.
"""

import pickle
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from time import process_time

import pandas

sys.path.insert(0, str(Path(__file__).parents[2]))

from receiving.matching import Elsewhere, reconcile
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    Claim,
    ContentLine,
    LabelRead,
    Manifest,
    Place,
    RawRead,
    Source,
    Sscc,
    mod10_check_digit,
)

PER_PHOTO = 6
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def sscc(serial: int) -> Sscc:
    body = f"3952{serial:013d}"
    return Sscc(body + mod10_check_digit(body))


def shipment(random: Random, number: int, cartons: int = 20, reads: int = 60) -> tuple[Manifest, list[LabelRead]]:
    """Most labels whole and seen three times, some plain barcodes, some torn to their address."""
    made = []
    for n in range(cartons):
        line = ContentLine("Oak", Address("Oak", n % 6 + 1, n // 6 + 1), f"IT-{n}", qty=1)
        code, plain = (sscc(number * cartons + n), "") if n % 10 else (None, f"KX-{number:05d}-{n:02d}")
        made.append(Carton(f"{n + 1:02d}", CartonKind.TRAY, code, plain, contents=(line,)))
    manifest = Manifest(f"SH-{number}", f"{number:05d}", tuple(made))
    seen: list[Carton] = []
    while len(seen) < reads:
        seen += random.sample(made, PER_PHOTO)
    found = (one_read(random, number, k, carton) for k, carton in enumerate(seen[:reads]))
    return manifest, [pickle.loads(pickle.dumps(read)) for read in found]


def one_read(random: Random, number: int, k: int, carton: Carton) -> LabelRead:
    torn = random.random() < 0.02
    address = carton.addresses[0]
    claim = Claim(address=address) if torn else Claim(sscc=carton.sscc, barcode=carton.barcode, address=address)
    raw = RawRead(
        f"{number}-{k}",
        START + timedelta(seconds=40 * k),
        Source.PHOTO,
        str(claim.sscc or claim.barcode or address),
        "]C1",
        Place.BACK_ROOM,
        "Ana",
        f"photo {k // PER_PHOTO}",
        ((k * 9.0, 0.0), (k * 9.0 + 8, 0.0), (k * 9.0 + 8, 5.0), (k * 9.0, 5.0)),
        k + 1,
    )
    return LabelRead(raw, claim)


def frames(work: list[tuple[Manifest, list[LabelRead]]]) -> tuple[pandas.DataFrame, pandas.DataFrame]:
    cartons = pandas.DataFrame(
        [
            (m.shipment, c.carton, str(c.sscc or ""), c.barcode, a.section, a.column, a.row)
            for m, _ in work
            for c in m
            for a in c.addresses
        ],
        columns=["shipment", "carton", "sscc", "barcode", "section", "column", "row"],
    )
    reads = pandas.DataFrame(
        [
            (m.shipment, r.read_id, str(r.claim.sscc or ""), r.claim.barcode, a.section, a.column, a.row)
            for m, reads in work
            for r in reads
            if (a := r.claim.address) is not None
        ],
        columns=["shipment", "read_id", "sscc", "barcode", "section", "column", "row"],
    )
    return cartons, reads


def joins(cartons: pandas.DataFrame, reads: pandas.DataFrame) -> int:
    """The three bare joins, and the cartons that none of them found."""
    cell = ["shipment", "section", "column", "row"]
    by_sscc = reads[reads.sscc != ""].merge(cartons[cartons.sscc != ""], on=["shipment", "sscc"], how="left")
    by_barcode = reads[reads.barcode != ""].merge(
        cartons[cartons.barcode != ""], on=["shipment", "barcode"], how="left"
    )
    by_cell = reads[(reads.sscc == "") & (reads.barcode == "")].merge(cartons, on=cell, how="left")
    found = pandas.concat([frame[["shipment", "carton"]] for frame in (by_sscc, by_barcode, by_cell)]).drop_duplicates()
    return len(
        cartons.merge(found, on=["shipment", "carton"], how="left", indicator=True).query("_merge == 'left_only'")
    )


def main() -> None:
    shipments = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    random = Random(3)
    work = [shipment(random, n) for n in range(shipments)]
    nowhere = Elsewhere()
    start = process_time()
    cartons, reads = frames(work)
    frames_s = process_time() - start

    start = process_time()
    short_in_frames = joins(cartons, reads)
    whole_s = process_time() - start
    some = [(c, r) for (_, c), (_, r) in zip(cartons.groupby("shipment"), reads.groupby("shipment"), strict=True)][:200]
    start = process_time()
    for c, r in some:
        joins(c, r)
    each_s = (process_time() - start) / len(some) * shipments

    start = process_time()
    short = sum(len(reconcile(manifest, seen, others=nowhere).short) for manifest, seen in work)
    ours_s = process_time() - start
    start = process_time()
    for manifest, seen in work:
        result = reconcile(manifest, seen, others=nowhere)
        assert len(result.explanations) == len(seen) and len(result.cartons) == len(manifest.cartons)
    shown_s = process_time() - start
    one = work[len(work) // 2]
    start = process_time()
    for _ in range(200):
        reconcile(one[0], one[1], others=nowhere)
    one_ms = (process_time() - start) / 200 * 1000

    print(f"{shipments} shipments, {len(cartons)} cartons, {len(reads)} reads; short {short}, pandas {short_in_frames}")
    print(f"reconcile, from scratch          {ours_s:8.2f} s   {ours_s / shipments * 1000:6.3f} ms a shipment")
    print(f"  with every reason looked at    {shown_s:8.2f} s   ratio {shown_s / whole_s:6.2f} to one frame")
    print(f"pandas joins, one frame          {whole_s:8.2f} s   ratio {ours_s / whole_s:6.2f}")
    print(f"  with the frames built first    {frames_s + whole_s:8.2f} s   ratio {ours_s / (frames_s + whole_s):6.2f}")
    print(f"pandas joins, by shipment        {each_s:8.2f} s   ratio {ours_s / each_s:6.2f}  (200 measured)")
    print(f"one more read, its shipment only {one_ms:8.3f} ms  1/{ours_s * 1000 / one_ms:.0f} of all shipments")


if __name__ == "__main__":
    main()
