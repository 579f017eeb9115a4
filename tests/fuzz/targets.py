"""Every edge at which foreign bytes come in, as a function that a fuzzer can call; the corpus is replayed through them.

A target raises for what must not be: an exception that is not the documented one, or an answer that breaks a promise.
`tests/bench/fuzz.py` searches with them, `test_corpus.py` replays what the searches found worth keeping.
"""

import io
import zipfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from receiving.closing import check_alone, make_key, read_record, replacement_from_json, replacement_json, seal
from receiving.closing import write_record as record_text
from receiving.commands.files import kind_of
from receiving.errors import BadRequest, FileFaults, ManifestFaults, PatternFaults, PhotoError, ScanFaults, StoreError
from receiving.expected import (  # noqa: F401
    ColumnMapping,
    DateForm,
    DecimalSign,
    asn856,
    desadv,
    edi,
    file_formats,
    interchange,
    manifest_changes,
    read_kit,
    read_layout,
    read_manifests,
    read_table_sample,
    table_files,
    write_layout_toml,
    write_manifest_csv,
)
from receiving.expected import notice as notice_assembly  # noqa: F401  # a fuzzer follows what it saw imported
from receiving.model import NOTE_KINDS, Manifest, PhotoReading, Place, RawRead, SealedRecord, Source
from receiving.reading import check_photo, gs1, is_video, label_warnings, learn_scanner, mh10, shown_jpegs, typed_read
from receiving.reading.claims import interpret, try_pattern
from receiving.reading.image import gray_photo, open_photo
from receiving.reading.patterns import default_patterns, read_patterns, write_patterns
from receiving.reading.printed_text import claims_from_text
from receiving.reading.scans import read_scans
from receiving.reading.symbology import ScannerProfile
from receiving.reading.video import video_stills
from receiving.store.records import from_text, to_text
from tests.expected.edi_messages import DESPATCH, STANDARD, x12
from tests.expected.edi_messages import edifact as edifact_message

NOW = datetime(2026, 3, 2, tzinfo=UTC)
HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SYMBOLOGIES = ("", "]C1", "]C0", "]E0", "]E3", "]I1", "]Q1", "]Q3", "]d2", "]A0")
MOST_PIXELS = 300_000
"""Larger pictures are opened and not decoded here: how long that may take is bounded by the pool that reads photos."""


@dataclass(frozen=True)
class Target:
    """One edge: ``check`` takes any bytes, ``seeds`` are well-formed ones, ``longest`` is what a search makes."""

    check: Callable[[bytes], None]
    seeds: tuple[bytes, ...]
    longest: int = 4096


def label_text(data: bytes) -> None:
    """A label's text, from a symbol, a scanner or a keyboard; the first byte chooses symbology and source."""
    first, rest = data[:1] or b"\x00", data[1:]
    text = rest.decode("utf-8", "surrogateescape")
    raw = RawRead("r", NOW, list(Source)[first[0] % 3], text, SYMBOLOGIES[first[0] % len(SYMBOLOGIES)])
    claim = interpret(raw, default_patterns()).claim
    label_warnings([claim, claim])
    for read in (gs1.read_element_strings, gs1.read_bracketed, gs1.read_digital_link, mh10.read_envelope):
        read(text)
    claims_from_text(text.split("\n"), (), default_patterns())
    half = len(text) // 2
    learn_scanner(text[:half], text[half:])
    profile = ScannerProfile.of_text(rest.decode(errors="replace"))  # as a cookie arrives
    assert ScannerProfile.of_text(profile.as_text()) == profile, profile
    profile.text_of(text)
    with suppress(BadRequest):
        typed_read(text, read_id="r", read_at=NOW, place=Place.DOCK, by="", source=Source.TYPED)


def patterns(data: bytes) -> None:
    """A file of label patterns, and one tried on a text."""
    text = data.decode("utf-8", "surrogateescape")
    example, _, pattern = text.partition("\n")
    try_pattern(pattern, example)
    with suppress(PatternFaults):
        read = read_patterns("p", data)
        assert read_patterns("again", write_patterns(read).encode()) == read


def scan_list(data: bytes) -> None:
    """A scan list, CSV or JSON lines."""
    with suppress(ScanFaults):
        read_scans("s", data, most=50)


CSV = (
    b"shipment,store,carton,sscc,kind,outer,section,column,row,open_first,item,qty,weight_kg,dispatch_date\n"
    b'S1,0417,07,195200000000000018,tray,,Harbor,3,2,yes,"A ""b""",2,1.5,2026-03-09\n'
)
KIT = read_kit(
    "kit", b"item,section,column,row,kind\nTRAY-A,Harbor,1,2,tray\nTRAY-A,Harbor,1,3,tray\nTAGS,Harbor,,,tags\n"
)
MAPPING = ColumnMapping(
    "Northlight",
    (("ref", "shipment"), ("shop", "store"), ("box", "carton"), ("type", "kind"), ("kg", "weight_kg")),
    DateForm.DMY,
    DecimalSign.COMMA,
    (("open_first", "no"),),
)


def notice(data: bytes) -> None:
    """A manifest or ship notice; what is read can be written and read again, unless a shipper's columns were mapped."""
    with suppress(ManifestFaults):
        read_manifests("fuzz", data, mappings=(MAPPING,))
    try:
        manifests = read_manifests("fuzz", data, kit=KIT if len(data) % 2 else None).manifests
    except ManifestFaults as refused:
        assert refused.faults and str(refused), refused
        return
    for manifest in manifests:
        if manifest.cartons:
            again = read_manifests("again", write_manifest_csv([manifest]).encode()).manifests
            assert again == (manifest,), manifest_changes(manifest, again[0])


def table(data: bytes) -> None:
    """A table: its sample, to map columns by, and its manifests."""
    kind_of(data)
    with suppress(ManifestFaults):
        read_table_sample("fuzz", data)
    notice(data)


def workbook(data: bytes) -> None:
    """A workbook whose parts are what was found: sheet, shared strings, styles, divided by NUL."""
    with suppress(ManifestFaults):
        list(table_files.xlsx_rows("fuzz", data))
    sheet, strings, styles = (*data.split(b"\0", 2), b"", b"")[:3]
    table(zipped(sheet, strings, styles))


def zipped(sheet: bytes, strings: bytes, styles: bytes) -> bytes:
    """A workbook of these parts (ECMA-376, part 1)."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        for name, text in WORKBOOK.items():
            archive.writestr(name, text)
        archive.writestr("xl/worksheets/sheet1.xml", sheet)
        if strings:
            archive.writestr("xl/sharedStrings.xml", strings)
        archive.writestr("xl/styles.xml", styles or STYLES)
    return file.getvalue()


_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_DOCUMENT = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_SHEETS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
WORKBOOK = {
    "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{_SHEET_TYPE}.sheet.main+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_SHEET_TYPE}.worksheet+xml"/>'
    f'<Override PartName="/xl/sharedStrings.xml" ContentType="{_SHEET_TYPE}.sharedStrings+xml"/>'
    f'<Override PartName="/xl/styles.xml" ContentType="{_SHEET_TYPE}.styles+xml"/></Types>',
    "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Id="r" Type="{_DOCUMENT}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": f'<workbook xmlns="{_SHEETS}" xmlns:r="{_DOCUMENT}">'
    '<sheets><sheet name="S" sheetId="1" r:id="s"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Id="s" Type="{_DOCUMENT}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="t" Type="{_DOCUMENT}/sharedStrings" Target="sharedStrings.xml"/>'
    f'<Relationship Id="y" Type="{_DOCUMENT}/styles" Target="styles.xml"/></Relationships>',
}
STYLES = (
    f'<styleSheet xmlns="{_SHEETS}"><numFmts count="1"><numFmt numFmtId="164" formatCode="0000"/></numFmts>'
    '<fonts count="1"><font/></fonts><fills count="1"><fill/></fills><borders count="1"><border/></borders>'
    '<cellStyleXfs count="1"><xf/></cellStyleXfs>'
    '<cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>'
).encode()
_HEAD = b"".join(
    b'<c t="inlineStr"><is><t>%s</t></is></c>' % name for name in (b"shipment", b"store", b"carton", b"kind", b"qty")
)
SHEET = (
    f'<worksheet xmlns="{_SHEETS}"><sheetData><row r="1">'.encode() + _HEAD + b"</row>"
    b'<row r="2"><c r="A2" t="s"><v>0</v></c><c r="B2" s="1"><v>417</v></c><c r="C2" t="str"><f>A1</f><v>07</v></c>'
    b'<c r="D2" t="s"><v>1</v></c><c r="E2"><v>2.0</v></c></row></sheetData></worksheet>'
)
STRINGS = f'<sst xmlns="{_SHEETS}"><si><t>S1</t></si><si><r><t>tr</t></r><r><t>ay</t></r></si></sst>'.encode()

LAYOUT = (
    b'[store]\nid="1"\nwalk_m=6\n[cart]\nmax_load_kg=1\ndeck_length_cm=1\ndeck_width_cm=1\nstack_height_cm=1\n'
    b'[[bay]]\nid="B"\nsection="H"\ncolumns=[1]\nwidth_cm=1\nstaging_length_cm=1\nstaging_depth_cm=1\norder=1\n'
)


def layout(data: bytes) -> None:
    """A store's layout (TOML); what is read can be written and read again."""
    with suppress(FileFaults):
        found = read_layout("fuzz", data)
        assert read_layout("again", write_layout_toml(found).encode()) == found


def kit(data: bytes) -> None:
    """A kit (CSV)."""
    with suppress(FileFaults):
        read_kit("fuzz", data)


def photo(data: bytes) -> None:
    """A photo or video: its header looked at, read as gray levels, and made small to be shown."""
    kind_of(data)
    try:
        check_photo("fuzz", data)
        if is_video(data):
            return
        width, height = open_photo("fuzz", data).size
        if width * height > MOST_PIXELS:
            return
        gray = gray_photo("fuzz", data)
        assert gray.ndim == 2 and gray.size, gray.shape
    except PhotoError:
        pass
    else:
        with suppress(PhotoError):
            assert Image.open(io.BytesIO(shown_jpegs("fuzz", data, (64,))[64])).size


def video(data: bytes) -> None:
    """A short video, read frame by frame."""
    if is_video(data):
        with suppress(PhotoError):
            video_stills("fuzz", data)


def record(data: bytes) -> None:
    """A sealed record, verified alone; a replacement request from its JSON; rows of the store."""
    with suppress(BadRequest):
        check_alone(read_record("fuzz", data))
    text = data.decode("utf-8", "surrogateescape")
    with suppress(BadRequest):
        request = replacement_from_json(text)
        assert replacement_from_json(replacement_json(request)) == request
    for kind in (Manifest, PhotoReading, *NOTE_KINDS.values()):
        with suppress(StoreError):
            value = from_text(text, kind)
            assert from_text(to_text(value), kind) == value


def _sealed() -> bytes:
    _, private, _ = make_key()
    text = '{"shipment": "S-1", "lines": []}'
    made = seal(
        text,
        shipment="S-1",
        number=1,
        sealed_at=NOW,
        previous="",
        evidence=(3, 1, "0" * 64),
        photos=["f" * 64],
        private_hex=private,
    )
    return record_text(SealedRecord("S-1", 1, text, made)).encode()


def _request() -> bytes:
    from receiving.closing import replacement_request
    from receiving.model import Address, CartonKind
    from receiving.model.replacement import Delivery, ReplacementLine, RequestReason

    lines = [
        ReplacementLine(
            "S1", "H", Address("H", 1, 2), CartonKind.TRAY, "T", "tray", 2, next(iter(RequestReason)), "07", ""
        )
    ]
    request = replacement_request(
        "0417", lines, Delivery("Store 0417", "Ada Lund"), number=1, requested_at=NOW, requested_by="Ada Lund"
    )
    return replacement_json(request).encode()


def small_pictures() -> tuple[bytes, ...]:
    """A picture of few pixels in every format that is read."""
    picture = Image.radial_gradient("L").resize((24, 16)).convert("RGB")
    made = []
    for kind, mode, options in (
        ("JPEG", "RGB", {}),
        ("JPEG", "CMYK", {}),
        ("PNG", "RGBA", {}),
        ("PNG", "P", {}),
        ("PNG", "I;16", {}),
        ("WEBP", "RGB", {}),
        ("TIFF", "RGB", {"compression": "tiff_lzw"}),
        ("TIFF", "L", {}),
        ("BMP", "RGB", {}),
        ("GIF", "P", {}),
        ("AVIF", "RGB", {}),
    ):
        file = io.BytesIO()
        exif = Image.Exif()
        exif[0x0112] = 6  # orientation
        image = picture.convert("I").convert(mode) if mode == "I;16" else picture.convert(mode)
        with suppress(KeyError, OSError):  # a build of the library without this format
            image.save(file, kind, **options, **({"exif": exif} if kind in ("JPEG", "PNG", "WEBP", "TIFF") else {}))
            made.append(file.getvalue())
    return (*made, (ROOT / "tests/reading/photos/ramp.heic").read_bytes())


TARGETS: dict[str, Target] = {
    "label_text": Target(
        label_text,
        (
            b"\x00]C100106141411234567897",
            b"\x01[)>\x1e06\x1dJ106141411234567897\x1d13Q7/24\x1e\x04",
            b"\x02https://id.gs1.org/00/106141411234567897?400=PO1",
            b"\x03(00) 1 0614141 123456789 7",
            b"\x04Section X / Column 3 / Row 2\nCARTON 7 OF 24",
            b"\x06prefix=a&end=%0D&gs=%5E",
        ),
        1024,
    ),
    "x12": Target(
        notice, (x12(STANDARD), x12(STANDARD, after="") + x12(STANDARD, element="|", terminator="\n", control=2))
    ),
    "edifact": Target(
        notice,
        (
            edifact_message(DESPATCH).encode(),
            edifact_message(DESPATCH, una="UNA:+.?'", after="\r\n").encode("utf-16-le"),
        ),
    ),
    "table": Target(
        table,
        (CSV, CSV.replace(b",", b";"), b"\xef\xbb\xbf" + CSV, b"ref;shop;box;type;kg\nS1;0417;07;tray;1,5\n"),
        2048,
    ),
    "workbook": Target(workbook, (SHEET + b"\0" + STRINGS + b"\0" + STYLES, SHEET, zipped(SHEET, STRINGS, STYLES))),
    "photo": Target(photo, small_pictures(), 8192),
    "scan_list": Target(
        scan_list,
        (
            b'{"scan_id":"3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01","scanned_at":"2026-03-02T08:15:00Z","raw":"A"}',
            b"scan_id,scanned_at,raw\n3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01,2026-03-02T08:15:00Z,A\n",
        ),
        2048,
    ),
    "layout": Target(layout, (LAYOUT,), 2048),
    "kit": Target(kit, (b"item,section,column,row\nA,H,1,2\n",), 2048),
    "patterns": Target(
        patterns, (b"[[pattern]]\nname='a'\nregex='(?P<carton>.)'\n", b"A7\n(?P<carton>[A-Z]\\d)"), 2048
    ),
    "record": Target(
        record,
        (
            _sealed(),
            _request(),
            *(to_text(manifest).encode() for manifest in read_manifests("m", CSV).manifests),
            b'{"note_id":"n","noted_at":"2026-03-02T00:00:00Z","by":"Ada","carton":"07","place":"dock"}',
            b'{"note_id":"n","noted_at":"2026-03-02T00:00:00Z","by":"Ada","carton":"07","reason":"arrived_damaged",'
            b'"usable":true,"qty":2,"photo":""}',
        ),
    ),
}
