"""Coverage-guided search for a text or a file that a label parser does not answer properly.

Run ``python tests/bench/fuzz_label_text.py -max_total_time=60`` (needs the package atheris; its options are those
of libFuzzer). It stops at the first exception that is not one of ours, and at a text that takes longer than 5 s.
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
with atheris.instrument_imports(include=["receiving", "biip"]):
    from receiving.errors import BadRequest, PatternFaults, ScanFaults
    from receiving.model import Place, RawRead, Source
    from receiving.reading import gs1, mh10
    from receiving.reading.claims import interpret, label_warnings
    from receiving.reading.patterns import default_patterns, read_patterns
    from receiving.reading.printed_text import claims_from_text
    from receiving.reading.scans import read_scans, typed_read
    from receiving.reading.trial import try_pattern

NOW = datetime(2026, 3, 2, tzinfo=UTC)
SYMBOLOGIES = ("", "]C1", "]C0", "]E0", "]E3", "]I1", "]Q1", "]Q3", "]d2", "]A0")
SEEDS = (
    b"\x00]C100106141411234567897",
    b"\x01[)>\x1e06\x1dJ106141411234567897\x1d13Q7/24\x1e\x04",
    b"\x02https://id.gs1.org/00/106141411234567897?400=PO1",
    b"\x03(00) 1 0614141 123456789 7",
    b"\x04Section X / Column 3 / Row 2\nCARTON 7 OF 24",
    b'\x05{"scan_id":"3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01","scanned_at":"2026-03-02T08:15:00Z","raw":"A"}',
    b"\x06scan_id,scanned_at,raw\n3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01,2026-03-02T08:15:00Z,A\n",
    b"\x07[[pattern]]\nname='a'\nregex='(?P<carton>.)'\n",
)


def one_input(data: bytes) -> None:
    """All parsers on one input; the first byte chooses symbology and source."""
    first, rest = data[:1] or b"\x00", data[1:]
    text = rest.decode("utf-8", "surrogateescape")
    raw = RawRead("r", NOW, list(Source)[first[0] % 3], text, SYMBOLOGIES[first[0] % len(SYMBOLOGIES)])
    claim = interpret(raw, default_patterns()).claim
    label_warnings([claim, claim])
    for read in (gs1.read_element_strings, gs1.read_bracketed, gs1.read_digital_link, mh10.read_envelope):
        read(text)
    try_pattern(text, text)
    claims_from_text(text.split("\n"), (), default_patterns())
    for refused, parse in (
        (ScanFaults, lambda: read_scans("s", rest)),
        (PatternFaults, lambda: read_patterns("p", rest)),
        (BadRequest, lambda: typed_read(text, read_id="r", read_at=NOW, place=Place.DOCK, by="", source=Source.TYPED)),
    ):
        try:
            parse()
        except refused:
            continue


if __name__ == "__main__":
    for seed in SEEDS:
        one_input(seed)
    atheris.Setup([sys.argv[0], "-timeout=5", *sys.argv[1:]], one_input)
    atheris.Fuzz()
