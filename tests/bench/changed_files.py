"""Whether any changed byte of a receipt's files goes unseen by `receiving verify`: every byte, one bit each, and more.

Makes a receipt with photos in a folder of its own, takes its sealed record, PDF and ZIP, changes one bit of each byte
(``--every N``: of each N-th), and counts what is found: by itself, and compared with the data folder. A change that is
found by the data folder alone (white space between the fields of a record, say) changes nothing that the record says.
"""

import argparse
import random
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving import service
from receiving.closing import read_record
from receiving.errors import ReceivingError
from receiving.model import Place, Source
from tests.service.conftest import picture

MANIFEST = b"""shipment,store,carton,sscc,kind
S-1,0417,01,395200000000000012,tray
S-1,0417,02,395200000000000029,header
"""


def files(ctx: service.Context) -> dict[str, bytes]:
    """The files of a receipt with a damage photo."""
    service.import_manifest(ctx, "m.csv", MANIFEST)
    service.add_scan(ctx, "S-1", "]C100395200000000000012", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    photo = service.add_photo(ctx, "S-1", "bent.png", picture("red"), place=Place.DOCK, by="Ada").photo
    service.add_note(
        ctx, "S-1", "damage_noted", by="Ada", carton="02", reason="arrived_damaged", usable="false", photo=photo
    )
    shown = service.show_receipt(ctx, "S-1")
    missing = service.MissingAnswer(searched=True)
    service.confirm(ctx, "S-1", shown.digest, name="Ida", role="Manager", with_exceptions=True, missing=missing)
    record = service.get_record_file(ctx, "S-1", 1).encode()
    return {
        "record": record,
        "pdf": service.make_receipt_pdf(ctx, "S-1", 1),
        "zip": service.make_receipt_zip(ctx, "S-1", 1),
    }


def is_sound(data: bytes) -> bool:
    """Whether the file passes by itself."""
    try:
        return service.verify_file("file", data).sound
    except ReceivingError:
        return False


def says_the_same(data: bytes, was: bytes) -> bool:
    """Whether a record that passes still says what it said."""
    return read_record("file", data) == read_record("file", was)


def main() -> None:
    """Print how many changes were found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    with tempfile.TemporaryDirectory() as folder, service.Context.at(Path(folder), create=True) as ctx:
        for kind, data in files(ctx).items():
            tried = unseen = harmless = 0
            for place in range(0, len(data), options.every):
                changed = bytearray(data)
                changed[place] ^= 1 << chance.randrange(8)
                tried += 1
                if is_sound(bytes(changed)):
                    same = kind == "record" and says_the_same(bytes(changed), data)
                    harmless, unseen = harmless + same, unseen + (not same)
            counted = f"changed {tried:7}  unseen {unseen}  unseen and the same in meaning {harmless}"
            print(f"{kind:7} {len(data):7} bytes  {counted}")


if __name__ == "__main__":
    main()
