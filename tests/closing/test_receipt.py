import re
import shutil
import subprocess
import unicodedata
from collections.abc import Iterator
from ctypes import byref, c_ulong, create_string_buffer, sizeof
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest

from receiving.closing import declaration_words, receipt_pdf, show_receipt
from receiving.closing.paper import find_unprintable
from receiving.errors import BadRequest
from receiving.model import (
    Address,
    Carton,
    CartonFinding,
    CartonState,
    ContentLine,
    Damage,
    DamageNoted,
    Duplicate,
    How,
    Manifest,
    Over,
    OverReason,
    Place,
    Question,
    Receipt,
    Reconciliation,
    ShortDeclaration,
    Signature,
    Sscc,
)
from receiving.model import CartonKind as Kind
from receiving.model.contents import CountedLine
from tests.closing.printed import pdfium
from tests.spoken import verbatim

raw = pdfium.raw
NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TRAY = Carton("07", Kind.REPLACEMENT_TRAY, contents=(ContentLine("Harbor", Address("Harbor", 3, 2)),))
TAGS = Carton("08", Kind.TAGS, contents=(ContentLine("Harbor"),))
MANIFEST = Manifest("S-1", "0417", (TRAY, TAGS))
WHOLE = Reconciliation(
    "S-1",
    "0417",
    (
        CartonFinding(TRAY, CartonState.RECEIVED, verbatim("Its SSCC was read."), How.SSCC, ("r1",)),
        CartonFinding(TAGS, CartonState.RECEIVED, verbatim("Its barcode was read."), How.BARCODE, ("r2",)),
    ),
)
CRACKED = DamageNoted("n1", NOW, "Ada", "08", Damage.ARRIVED, False, item="TG-1", remark="torn")
TROUBLED = replace(
    WHOLE,
    cartons=(
        CartonFinding(TRAY, CartonState.SHORT, verbatim("No label of it was seen.")),
        replace(WHOLE.cartons[1], damage=(CRACKED,)),
    ),
    over=(
        Over("00395200000000000036", OverReason.OTHER_STORE, ("r3",), verbatim("belongs to store 0422")),
        Over("(00)…", OverReason.NOT_ON_MANIFEST, ("r7",), sscc=Sscc("106141411234567897")),
        Over("4006381333931", OverReason.NOT_A_CARTON_LABEL, ("r4",)),
    ),
    duplicates=(Duplicate("08", "TAGS-8", ("r2", "r5"), verbatim("Both labels are on one photo.")),),
    questions=(Question("q1", ("r6",), ("07", "08"), verbatim("Is the torn label carton 07 or 08?")),),
)


def test_a_whole_shipment_has_no_exceptions() -> None:
    shown = show_receipt(WHOLE, MANIFEST, 1)
    assert (shown.expected, shown.received, shown.short, shown.extra, shown.questions) == (2, 2, 0, 0, 0)
    assert {line.state for line in shown.lines} == {"received"}


def test_every_exception_stands_in_plain_words_before_what_is_here() -> None:
    shown = show_receipt(TROUBLED, MANIFEST, 3)
    assert [(line.state, line.words) for line in shown.lines] == [
        ("short", "Carton 07, replacement tray, for Harbor, column 3, row 2: missing. No label of it was seen."),
        ("damaged", "Carton 08, tags, for Harbor: damaged. Arrived damaged, TG-1, not usable: torn."),
        ("extra", "Extra carton, '00395200000000000036': another store's carton; belongs to store 0422."),
        ("extra", "Extra carton, SSCC 106141411234567897: not on the manifest."),
        ("duplicate", "Carton 08: two labels with one code. Both labels are on one photo."),
        ("question", "Open question: Is the torn label carton 07 or 08?"),
        ("received", "Carton 08, tags, for Harbor: here."),
    ]
    assert (shown.short, shown.extra, shown.questions) == (1, 2, 1)


CLIPS = Carton(
    "09",
    Kind.PARTS,
    contents=(ContentLine("Harbor", item="HW-1", description="Shelf clips", qty=48), ContentLine(item="X")),
)
FRAME = Carton("10", Kind.TRAY, contents=(ContentLine("Harbor", item="FR-1", description="Frame", qty=2),))


def test_contents_that_were_counted_otherwise_are_exceptions() -> None:
    """What the messages call a mismatch of quantity was shown to the store before it signed."""
    here = tuple(CartonFinding(c, CartonState.RECEIVED, verbatim("Seen."), How.SSCC, ("r1",)) for c in (CLIPS, FRAME))
    gone = CartonFinding(TRAY, CartonState.SHORT, verbatim("No label of it was seen."))
    counted = (
        CountedLine("07", 0, "tray", "tray", 1, 0, 0, False),
        CountedLine("09", 0, "HW-1", "HW-1", 48, 45, 40, True),
        CountedLine("09", 1, "X", "X", 1, 2, 2, True),
        CountedLine("10", 0, "clip", "FR-1 clip", 8, 7, 7, True),
        CountedLine("10", 0, "frame", "FR-1 frame", 2, 2, 1, True),
    )
    found = Reconciliation("S-1", "0417", (*here, gone))
    shown = show_receipt(found, replace(MANIFEST, cartons=(CLIPS, FRAME, TRAY)), 1, counted=counted)
    assert [(line.carton, line.words) for line in shown.lines if line.state == "counted"] == [
        (
            "09",
            "Carton 09, parts, for Harbor: the contents differ. "
            "Shelf clips, HW-1: 45 of 48 found. X: 2 found instead of 1.",
        ),
        ("10", "Carton 10, tray, for Harbor: the contents differ. Frame, FR-1, clip: 7 of 8 found."),
    ]
    assert [line.carton for line in shown.lines if line.state == "received"] == ["09", "10"]


LOST = ShortDeclaration("Ada", NOW, "not loaded, says the driver.", (Place.DOCK, Place.BACK_ROOM))


def test_a_missing_carton_says_who_declared_it_short_and_why() -> None:
    shown = show_receipt(TROUBLED, MANIFEST, 3, {"07": LOST, "08": LOST})
    assert [(line.carton, line.declared) for line in shown.lines if line.declared] == [("07", LOST)]
    assert shown.digest != show_receipt(TROUBLED, MANIFEST, 3).digest
    assert str(declaration_words(LOST, "09:30 UTC")) == (
        "Declared short by Ada, 09:30 UTC: not loaded, says the driver. Looked for in: dock, back room."
    )
    assert str(declaration_words(ShortDeclaration("", NOW, "lost"), NOW)) == (
        "Declared short Mon 2 Mar 2026, 09:30 UTC: lost. Not looked for."
    )
    assert str(declaration_words(replace(LOST, reason=""), "noon")).startswith("Declared short by Ada, noon. Looked")
    assert str(declaration_words(ShortDeclaration("", NOW, ""), "noon")) == "Declared short noon. Not looked for."


@pytest.mark.parametrize(
    ("rows", "places"),
    [
        (3, "column 1, row 1; column 1, row 2; column 1, row 3"),
        (4, "column 1, row 1; column 1, row 2; column 1, row 3 and 1 more place"),
        (6, "column 1, row 1; column 1, row 2; column 1, row 3 and 3 more places"),
    ],
)
def test_a_line_of_a_receipt_names_three_places_and_counts_the_others(rows: int, places: str) -> None:
    tray = replace(TRAY, contents=tuple(ContentLine("Harbor", Address("Harbor", 1, row + 1)) for row in range(rows)))
    found = replace(WHOLE, cartons=(replace(WHOLE.cartons[0], carton=tray),))
    (line,) = show_receipt(found, replace(MANIFEST, cartons=(tray,)), 1).lines
    assert line.words.replace("Harbor, ", "") == f"Carton 07, replacement tray, for {places}: here."


def test_a_carton_that_is_for_no_place_is_named_by_what_it_is() -> None:
    tray = replace(TRAY, contents=())
    found = replace(WHOLE, cartons=(replace(WHOLE.cartons[0], carton=tray),))
    assert show_receipt(found, MANIFEST, 1).lines[0].words == "Carton 07, replacement tray: here."


def test_what_was_declared_of_several_cartons_alike_stands_once_and_25_missing_cartons_on_one_page(
    tmp_path: Path,
) -> None:
    receipt = receipt_of("Cem Ortiz", count=25, remarks="The box by the door is wet.")
    each = "Nothing shows it, nor the outer box 00 that it travels in"
    lines = tuple(
        replace(
            line,
            state="short",
            words=f"Carton {line.carton}, replacement tray, for Mossquill, column 5, row 2: missing. {each}",
            # One tap declares all of them, each by a note of its own that is some microseconds later.
            declared=replace(
                LOST, at=NOW + n * timedelta(microseconds=35), reason="torn" if line.carton == "07" else "lost"
            ),
            said=None,
        )
        for n, line in enumerate(receipt.shown.lines)
    )
    data = receipt_pdf(replace(receipt, shown=replace(receipt.shown, lines=lines, received=0, short=25)))
    text = " ".join(read_by("pdftotext", data, tmp_path).split())
    assert re.search(r"Pages: +1\n", read_by("pdfinfo", data, tmp_path))
    assert text.count("Declared short by Ada") == 2
    assert "missing. Nothing shows it, nor the outer box 00 that it travels in. Declared short by Ada" in text
    assert "Cartons 01, 02, 03, 04, 05, 06, 08, 09" in text and "24 and 25: Declared short by Ada" in text


def test_the_digest_changes_with_every_word_that_is_shown() -> None:
    shown = show_receipt(WHOLE, MANIFEST, 1)
    assert shown.digest == show_receipt(WHOLE, MANIFEST, 1).digest
    assert shown.digest != show_receipt(WHOLE, MANIFEST, 2).digest
    assert shown.digest != show_receipt(TROUBLED, MANIFEST, 1).digest


def test_the_printed_receipt_is_the_same_file_every_time_and_bears_awkward_words() -> None:
    receipt = Receipt(
        2, NOW, "Łukasz <b> & Co", "Store manager", "Box 3 & 4 <wet>", True, show_receipt(TROUBLED, MANIFEST, 1)
    )
    first = receipt_pdf(receipt, paper="Letter")
    assert first.startswith(b"%PDF-")
    assert first == receipt_pdf(receipt, paper="Letter")
    assert first != receipt_pdf(receipt)


def receipt_of(name: str, remarks: str = "", count: int = 25) -> Receipt:
    cartons = tuple(Carton(f"{n:02d}", Kind.TRAY, contents=(ContentLine("Harbor"),)) for n in range(1, count + 1))
    here = tuple(
        CartonFinding(c, CartonState.RECEIVED, verbatim("Its SSCC was read."), How.SSCC, (f"r{c.carton}",))
        for c in cartons
    )
    whole = Reconciliation("S-1", "0417", here)
    drawn = Signature((((10, 20), (400, 250)), ((500, 10),)), 300)
    shown = show_receipt(whole, Manifest("S-1", "0417", cartons), 1)
    return Receipt(1, NOW, name, "Store manager", remarks, False, shown, signature=drawn)


def read_by(tool: str, data: bytes, path: Path, *options: str) -> str:
    """What one of poppler's tools says of the file."""
    if not shutil.which(tool):
        pytest.skip(f"install Debian's poppler-utils: there is no {tool}")
    file = path / "receipt.pdf"
    file.write_bytes(data)
    done = subprocess.run([tool, *options, str(file), *(["-"] if tool == "pdftotext" else [])], capture_output=True)
    assert done.stderr == b""
    return done.stdout.decode()


def test_a_receipt_of_25_cartons_is_one_tagged_page_that_another_reader_understands(tmp_path: Path) -> None:
    name = "Łukasz Żak"
    if find_unprintable(name):
        pytest.skip("install Debian's fonts-dejavu-core")
    data = receipt_pdf(receipt_of(name))
    facts = read_by("pdfinfo", data, tmp_path)
    assert re.search(r"Tagged: +yes", facts) and re.search(r"Pages: +1\n", facts)
    words = [
        line.split()[0].rstrip(":")
        for line in read_by("pdfinfo", data, tmp_path, "-struct").splitlines()
        if line.strip()
    ]
    assert words[0] == "Document" and words.count("H1") == 1 and words.count("H2") == 3
    assert words.count("TH") == 5 and words.count("Figure") == 1
    assert (words.count("Table"), words.count("L"), words.count("LI")) == (1, 1, 25), "what only places is not a table"
    text = read_by("pdfinfo", data, tmp_path, "-struct-text")
    order = [
        text.index(each)
        for each in ("Receipt 1", "Expected", "Confirmed by", "Exceptions (0)", "Carton 01", "Carton 25")
    ]
    assert order == sorted(order)
    cartons = [text.index(f"Carton {n:02d}") for n in range(1, 26)]
    assert cartons == sorted(cartons), "two columns on paper are one list to who hears it"
    assert "page 1" not in text, "the foot is not part of what is read"


def test_a_receipt_says_of_itself_what_accessible_files_say(tmp_path: Path) -> None:
    """XMP with title and the mark of PDF/UA-1 (ISO 14289-1, 5); title shown, language, tab order (7.1, 7.2, 7.18)."""
    data = receipt_pdf(receipt_of("Ida"))
    facts = read_by("pdfinfo", data, tmp_path, "-meta")
    described = ElementTree.fromstring(facts.partition("?>")[2].rpartition("<?")[0])
    names = {"pdfuaid": "http://www.aiim.org/pdfua/ns/id/", "dc": "http://purl.org/dc/elements/1.1/"}
    assert described.findtext(".//pdfuaid:part", namespaces=names) == "1"
    title = described.find(".//dc:title", names)
    assert title is not None and "".join(title.itertext()).strip() == "Receipt 1 for shipment S-1"
    for mark in (rb"/DisplayDocTitle true", rb"/Lang \(en\)", rb"/Marked true", rb"/Tabs /S", rb"/ParentTreeNextKey"):
        assert re.search(mark, data), mark


def test_every_piece_of_a_page_is_in_the_structure_or_an_artifact_and_leads_back_to_it(tmp_path: Path) -> None:
    """ISO 32000-1, 14.7.4.4: the parent tree names, for each marked content of a page, the element that it is of.

    ISO 14289-1, 7.1: whatever is in no element is an artifact, and nothing is both.
    """
    file = tmp_path / "receipt.pdf"
    file.write_bytes(receipt_pdf(receipt_of("Ida", count=120)))
    pdf = pdfium.PdfDocument(str(file))
    assert len(pdf) > 1
    for page in pdf:
        tree = raw.FPDF_StructTree_GetForPage(page.raw)
        assert raw.FPDF_StructTree_CountChildren(tree) == 1
        marked = sorted(_marks(raw.FPDF_StructTree_GetChildAtIndex(tree, 0)))
        drawn = {raw.FPDFPageObj_GetMarkedContentID(each.raw) for each in page.get_objects()} - {-1}
        assert set(marked) == drawn and len(marked) == len(set(marked))
        marks = [_marked_as(piece) for piece in page.get_objects()]
        assert {(bool(tags - {"Artifact"}), "Artifact" in tags) for tags in marks} == {(True, False), (False, True)}
        raw.FPDF_StructTree_Close(tree)
        page.close()
    pdf.close()


def _marked_as(piece: pdfium.PdfObject) -> set[str]:
    """The tags of the marked content that this piece of a page stands in."""
    tags = set()
    for place in range(raw.FPDFPageObj_CountMarks(piece.raw)):
        name, length = (raw.FPDF_WCHAR * 64)(), c_ulong()
        raw.FPDFPageObjMark_GetName(raw.FPDFPageObj_GetMark(piece.raw, place), name, sizeof(name), byref(length))
        tags.add(bytes(name)[: length.value].decode("utf-16-le").rstrip("\0"))
    return tags


def _marks(element: object) -> Iterator[int]:
    """The numbers of all marked content below this element, on this page."""
    for place in range(raw.FPDF_StructElement_CountChildren(element)):
        number = raw.FPDF_StructElement_GetChildMarkedContentID(element, place)
        child = raw.FPDF_StructElement_GetChildAtIndex(element, place)
        if child:
            yield from _marks(child)
        elif number >= 0:
            yield number


def test_every_font_of_a_receipt_is_in_the_file(tmp_path: Path) -> None:
    fonts = read_by("pdffonts", receipt_pdf(receipt_of("Łukasz")), tmp_path).splitlines()[2:]
    assert fonts and all(re.search(r" yes +yes +yes ", line) for line in fonts)


@pytest.mark.parametrize("name", ["Мария Петрова", "Ελένη Παππά", "Nguyễn Thị Hồng", "Çağla Şahin"])
def test_names_in_other_scripts_are_printed_or_refused_by_their_letters(name: str, tmp_path: Path) -> None:
    if find_unprintable(name):
        with pytest.raises(BadRequest, match="letters that cannot be printed"):
            receipt_pdf(receipt_of(name))
        return
    assert name in unicodedata.normalize("NFC", read_by("pdftotext", receipt_pdf(receipt_of(name)), tmp_path))


@pytest.mark.parametrize("name", ["王小明", "山田 花子", "王小明 & Łukasz Żak"])
def test_chinese_and_japanese_names_are_printed_where_a_font_of_theirs_is(name: str, tmp_path: Path) -> None:
    if find_unprintable(name):
        pytest.skip("install Debian's fonts-droid-fallback: no font here has these letters")
    data = receipt_pdf(receipt_of(name, remarks=f"{name}: 2 箱"))
    text = unicodedata.normalize("NFC", read_by("pdftotext", data, tmp_path))
    assert name in text and f"{name}: 2 箱" in text and "?" not in text
    fonts = read_by("pdffonts", data, tmp_path).splitlines()[2:]
    assert any("Droid" in line for line in fonts) and all(re.search(r" yes +yes +yes ", line) for line in fonts)
    assert re.search(r"Pages: +1\n", read_by("pdfinfo", data, tmp_path))


HEBREW, ARABIC, PERSIAN, KOREAN = "דנה כהן", "ليلى الأحمد", "پریسا کریمی", "김민서"


@pytest.mark.parametrize("name", [HEBREW, ARABIC, PERSIAN, KOREAN])
def test_hebrew_arabic_and_korean_names_are_read_back_as_they_were_written(name: str, tmp_path: Path) -> None:
    if find_unprintable(name):
        pytest.skip("install Debian's fonts-dejavu-core and fonts-nanum: no font here has these letters")
    data = receipt_pdf(receipt_of(name, remarks=f"{name} (2), 10:30."))
    text = as_written(read_by("pdftotext", data, tmp_path))
    assert text.count(name) == 3 and "?" not in text
    fonts = read_by("pdffonts", data, tmp_path).splitlines()[2:]
    assert fonts and all(re.search(r" yes +yes +yes ", line) for line in fonts)
    assert re.search(r"Pages: +1\n", read_by("pdfinfo", data, tmp_path))


def as_written(text: str) -> str:
    """What a reader of PDF found, without its signs of direction, each Arabic letter in any form as that letter."""
    return unicodedata.normalize("NFKC", re.sub("[\u200e\u200f\u202a-\u202e]", "", text))


@pytest.mark.parametrize(("name", "remarks"), [(HEBREW, "הקופסה רטובה (2)."), (ARABIC, "وصل الصندوق مبللا.")])
def test_who_hears_a_receipt_hears_names_and_remarks_as_they_were_written(name: str, remarks: str) -> None:
    if find_unprintable(name + remarks):
        pytest.skip("install Debian's fonts-dejavu-core")
    pdf = pdfium.PdfDocument(receipt_pdf(receipt_of(name, remarks=remarks)))
    page = pdf[0]
    tree = raw.FPDF_StructTree_GetForPage(page.raw)
    heard = list(_actual_texts(raw.FPDF_StructTree_GetChildAtIndex(tree, 0)))
    raw.FPDF_StructTree_Close(tree)
    confirmed = f"Confirmed by {name}, Store manager, on Mon 2 Mar 2026, 09:30 UTC"
    assert heard == [confirmed, remarks, f"Signature, store: {name}"]


def _actual_texts(element: object) -> Iterator[str]:
    """The texts that elements say they were written as (ActualText), in order."""
    length = raw.FPDF_StructElement_GetActualText(element, None, 0)
    if length > 2:
        buffer = create_string_buffer(length)
        raw.FPDF_StructElement_GetActualText(element, buffer, length)
        yield buffer.raw.decode("utf-16-le").rstrip("\0")
    for place in range(raw.FPDF_StructElement_CountChildren(element)):
        if child := raw.FPDF_StructElement_GetChildAtIndex(element, place):
            yield from _actual_texts(child)


def test_long_remarks_that_run_from_right_to_left_are_broken_as_they_are_read(tmp_path: Path) -> None:
    words = [f"מילה{n}" for n in range(1, 61)]
    remarks = " ".join(words)
    if find_unprintable(remarks):
        pytest.skip("install Debian's fonts-dejavu-core")
    text = as_written(read_by("pdftotext", receipt_pdf(receipt_of("Ida", remarks=remarks)), tmp_path))
    lines = [line for line in text.splitlines() if "מילה" in line]
    assert len(lines) > 3
    found = [re.findall(r"\d+", line) for line in lines]
    assert [int(n) for line in found for n in sorted(line, key=int)] == list(range(1, 61))


@pytest.mark.parametrize("word", ["מ" * 200, "m" + "מ" * 200])
def test_a_word_longer_than_a_line_is_broken_and_nothing_of_it_is_lost(word: str, tmp_path: Path) -> None:
    if find_unprintable(word):
        pytest.skip("install Debian's fonts-dejavu-core")
    text = as_written(read_by("pdftotext", receipt_pdf(receipt_of("Ida", remarks=word)), tmp_path))
    assert text.count("מ") == 200


@pytest.mark.parametrize(("name", "letters"), [("𒀀𒀁", "𒀀 𒀁"), ("ܐܒ", "ܐ ܒ"), ("ދި", "ދ ި"), ("สมชาย", "ส ม ช า ย")])
def test_letters_that_cannot_be_set_are_refused_by_name(name: str, letters: str) -> None:
    for receipt in (receipt_of(name), receipt_of("Ida", remarks=name)):
        with pytest.raises(BadRequest) as fault:
            receipt_pdf(receipt)
        assert str(fault.value.message).endswith(letters) and "Print the receipt's page" in str(fault.value.next_step)
