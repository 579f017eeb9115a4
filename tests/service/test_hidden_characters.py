"""No text that people give may read other than it is; what the world's scripts are typed with stays."""

import unicodedata

import pytest

from receiving import service
from receiving.errors import BadRequest, ManifestFaults, ScanFaults
from receiving.expected import read_layout, read_manifests
from receiving.model import Place, Role, Source
from receiving.model.hidden_characters import find_hidden_character, hidden_character_words, without_hidden_characters
from receiving.reading import read_scans
from tests.service.conftest import LAYOUT, picture

HIDDEN = ("\0", "\x1b", "\x7f", "\x85", "\u202e", "\u202a", "\u2066", "\u2069", "\u2028", "\ufeff", "\ufff9", "\ufffe")
PERSIAN = "می\u200cخواهم"  # with the zero-width non-joiner that its spelling needs
SINHALA = "ශ්\u200dරී"  # with the joiner that makes its conjunct
HEBREW = "עדה\u200f (2)"  # with a mark that keeps the bracket at its side
ARABIC = "ليلى\u061c \u0651"
CHILD = "Zoë Ångström-O’Neil"
USUAL = (PERSIAN, SINHALA, HEBREW, ARABIC, CHILD, "Nguyễn", "👩\u200d🔧", "李雷")


@pytest.mark.parametrize("character", HIDDEN)
def test_a_character_that_turns_or_shows_nothing_is_named_with_its_place(character: str) -> None:
    text = f"Ida{character}Berg"
    assert find_hidden_character(text) == 3
    assert f"character 4 is U+{ord(character):04X}, which" in str(hidden_character_words(text))
    assert without_hidden_characters(text) == "IdaBerg"


@pytest.mark.parametrize("text", USUAL)
def test_names_of_all_scripts_stay_as_they_are(text: str) -> None:
    assert find_hidden_character(text, lines=False) is None
    assert without_hidden_characters(text) == text


def test_every_explicit_directional_sign_of_the_standard_is_refused() -> None:
    """By the Bidi_Class of the Unicode character database that Python carries (UAX 9, table 1)."""
    explicit = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    characters = [chr(point) for point in range(0x110000) if unicodedata.bidirectional(chr(point)) in explicit]
    assert len(characters) == 9
    assert all(find_hidden_character(character) == 0 for character in characters)


def test_lines_may_be_broken_in_remarks_and_not_in_names() -> None:
    assert find_hidden_character("first\nsecond\tthird\r\n") is None
    assert find_hidden_character("Ida\nBerg", lines=False) == 3


@pytest.mark.parametrize("character", ["\0", "\u202e"])
def test_nothing_is_stored_under_such_a_name_or_text(ctx: service.Context, character: str) -> None:
    bad, refused = f"Ada{character}", pytest.raises(BadRequest, match=f"character 4 is U\\+{ord(character):04X}")
    with refused as fault:
        service.add_note(ctx, "S-1", "carton_seen", by=bad, carton="02", reason="label gone")
    assert fault.value.field == "by"
    with pytest.raises(BadRequest, match="given as reason cannot be kept"):
        service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02", reason=bad)
    with pytest.raises(BadRequest, match="given as by cannot be kept"):
        service.add_scan(ctx, "S-1", "carton 02", place=Place.DOCK, by=bad, source=Source.TYPED)
    with pytest.raises(BadRequest, match="given as by cannot be kept"):
        service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by=bad)
    with pytest.raises(BadRequest, match="given as reason cannot be kept"):
        service.void_shipment(ctx, "S-1", by="Ada", reason=bad)
    digest = service.show_receipt(ctx, "S-1").digest
    for field in ("name", "role", "remarks"):
        texts = {"name": "Grace", "role": "Manager", "remarks": "", field: bad}
        with pytest.raises(BadRequest, match=f"given as {field} cannot be kept"):
            service.confirm(ctx, "S-1", digest, **texts, with_exceptions=True)
    with pytest.raises(BadRequest, match="cannot be used"):
        service.add_person(ctx, bad, Role.COORDINATOR, "four plain words here")
    view = service.get_shipment(ctx, "S-1")
    assert (view.notes, view.reads, view.photos, view.receipts) == ((), (), (), ())


def test_a_photo_is_kept_under_the_name_without_such_signs(ctx: service.Context) -> None:
    service.add_photo(ctx, "S-1", "pile\u202egnp.exe", picture(), place=Place.DOCK, by=PERSIAN)
    (photo,) = service.get_shipment(ctx, "S-1").photos
    assert (photo.name, photo.by) == ("pilegnp.exe", PERSIAN)


@pytest.mark.parametrize("character", ["\x01", "\u202e", "\u2067"])
def test_tables_and_lists_name_the_character(character: str) -> None:
    for row in (f"S{character}1,0417,01,tray,", f"S1,0417,01,tray,a{character}b"):
        with pytest.raises(ManifestFaults, match=f"U\\+{ord(character):04X}"):
            read_manifests("m.csv", f"shipment,store,carton,kind,description\n{row}\n".encode())
    scan = f"scan_id,scanned_at,raw,by\n10000000-0000-4000-8000-000000000001,2026-03-05T09:00:00Z,C1 R1,A{character}\n"
    with pytest.raises(ScanFaults, match=f"character 2 is U\\+{ord(character):04X}"):
        read_scans("s.csv", scan.encode())


def test_a_layout_takes_a_name_that_needs_a_joiner() -> None:
    layout = read_layout("l.toml", LAYOUT.replace('"Harbor"', f'"{PERSIAN}"').encode())
    assert layout.bays[0].section == PERSIAN
