"""Coverage-guided search for a manifest, notice, layout or kit that its parser does not answer properly.

Run ``python tests/bench/fuzz_expected.py -max_total_time=60`` (needs the package atheris; its options are those of
libFuzzer). It stops at the first exception that is not one of ours, at a manifest that does not survive being
written and read again, and at a file that takes longer than 10 s.
"""

import sys
from importlib import import_module
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
with atheris.instrument_imports(include=["receiving"]):
    from receiving.errors import FileFaults
    from receiving.expected import (
        manifest_changes,
        read_kit,
        read_layout,
        read_manifests,
        write_layout_toml,
        write_manifest_csv,
    )

    for late in ("edi", "x12", "asn856", "edifact", "desadv", "table_door", "assemble"):
        import_module(f"receiving.expected.{late}")  # what the door imports when a file asks for it
    from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, x12

CSV = (
    b"shipment,store,carton,sscc,kind,outer,section,column,row,open_first,item,qty,weight_kg,dispatch_date\n"
    b'S1,0417,07,195200000000000014,tray,,Harbor,3,2,yes,"A ""b""",2,1.5,2026-03-09\n'
)
LAYOUT = (
    b'[store]\nid="1"\nwalk_m=6\n[cart]\nmax_load_kg=1\ndeck_length_cm=1\ndeck_width_cm=1\nstack_height_cm=1\n'
    b'[[bay]]\nid="B"\nsection="H"\ncolumns=[1]\nwidth_cm=1\nstaging_length_cm=1\nstaging_depth_cm=1\norder=1\n'
)
KIT = read_kit(
    "kit", b"item,section,column,row,kind\nTRAY-A,Harbor,1,2,tray\nTRAY-A,Harbor,1,3,tray\nTAGS,Harbor,,,tags\n"
)
SEEDS = (
    b"m" + CSV,
    b"m" + CSV.replace(b",", b";"),
    b"m" + x12(STANDARD),
    b"m" + x12(STANDARD, after="") + x12(STANDARD, element="|", terminator="\n", after="", control=2),
    b"m" + edifact(DESPATCH).encode(),
    b"m" + edifact(DESPATCH, una="UNA:+.?'", after="\r\n").encode("utf-16-le"),
    b"l" + LAYOUT,
    b"k" + b"item,section,column,row\nA,H,1,2\n",
)


def manifests_survive(data: bytes) -> None:
    """What is read can be written and read again."""
    for manifest in read_manifests("fuzz", data, kit=KIT if len(data) % 2 else None).manifests:
        if manifest.cartons:
            again = read_manifests("again", write_manifest_csv([manifest]).encode()).manifests
            assert again == (manifest,), manifest_changes(manifest, again[0])


def layout_survives(data: bytes) -> None:
    """What is read can be written and read again."""
    layout = read_layout("fuzz", data)
    assert read_layout("again", write_layout_toml(layout).encode()) == layout


def one_input(data: bytes) -> None:
    """The first byte chooses the parser."""
    parser = {b"l": layout_survives, b"k": lambda rest: read_kit("fuzz", rest)}.get(data[:1], manifests_survive)
    try:
        parser(data[1:])
    except FileFaults as refused:
        assert refused.faults and str(refused) and refused.name != "again", str(refused)


def main() -> None:
    """Write the seeds where the search starts, and search."""
    import tempfile

    with tempfile.TemporaryDirectory() as seeds:
        for number, seed in enumerate(SEEDS):
            Path(seeds, str(number)).write_bytes(seed)
            one_input(seed)
        atheris.Setup([*sys.argv, "-timeout=10", "-max_len=4096", seeds], one_input)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
