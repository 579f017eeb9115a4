"""How letters follow each other on paper: the Unicode Bidirectional Algorithm, and the forms in which Arabic joins."""

import re
import unicodedata
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.closing import paper
from receiving.closing.writing import (
    FONT_FOLDERS,
    as_drawn,
    begins_right_to_left,
    cannot_be_set,
    font_runs,
    forms_of,
    packages_with,
)

ALEF, BET, GIMEL = "\u05d0\u05d1\u05d2"


@pytest.mark.parametrize(
    ("written", "drawn"),
    [
        ("Dana (2)", "Dana (2)"),
        (f"{ALEF}{BET}{GIMEL}", f"{GIMEL}{BET}{ALEF}"),
        (f"{ALEF} 12-3", f"12-3 {ALEF}"),
        (f"{ALEF}{BET} 10:30", f"10:30 {BET}{ALEF}"),
        # A bracket that runs from right to left is drawn as its mirror image: UAX #9, rule L4.
        (f"{ALEF} (2)", f"(2) {ALEF}"),
        (f"{ALEF} ({BET}) [{GIMEL}]", f"[{GIMEL}] ({BET}) {ALEF}"),
        (f"{ALEF} ((", f")) {ALEF}"),
        (f"a ({ALEF}) b", f"a ({ALEF}) b"),
        (f"a {ALEF} (b) {BET}", f"a {ALEF} (b) {BET}"),
        (f"{ALEF} < {BET}", f"{BET} > {ALEF}"),
        # Signs of direction work and are not drawn.
        (f"{ALEF}\u200e", ALEF),
        # Points go, the letters stay.
        ("\u05e9\u05c1\u05b8\u05dc\u05d5\u05b9\u05dd", "\u05dd\u05d5\u05dc\u05e9"),
    ],
)
def test_a_line_is_put_into_the_order_of_the_page(written: str, drawn: str) -> None:
    assert as_drawn(written) == drawn


def test_a_line_of_a_paragraph_runs_as_the_paragraph_does() -> None:
    line = f"{ALEF}{BET}."
    assert as_drawn(line, right_to_left=True) == f".{BET}{ALEF}"
    assert as_drawn(line, right_to_left=False) == f"{BET}{ALEF}."


def test_arabic_letters_join_and_lam_with_alef_is_one() -> None:
    """Forms by the Unicode code charts, Arabic Presentation Forms-B: beh is U+0628, its forms U+FE8F to U+FE92."""
    assert as_drawn("\u0628\u0628\u0628") == "\ufe90\ufe92\ufe91"
    assert as_drawn("\u0628 \u0628") == "\ufe8f \ufe8f"
    assert as_drawn("\u0644\u0627") == "\ufefb"
    assert as_drawn("\u0645\u06cc\u200c\u0631") == "\ufead\ufbfd\ufee3", (
        "a non-joiner parts letters, and is not a glyph"
    )
    assert forms_of("\u0628") == ("\ufe8f", "\ufe91", "\ufe92", "\ufe90")


def test_a_word_is_joined_of_its_letters_and_of_no_sign_for_the_whole_word() -> None:
    """The Arabic word for God has a sign of its own (U+FDF2), which few fonts have; points are left off."""
    assert as_drawn("\u0627\u0644\u0644\u0647") == "\ufeea\ufee0\ufedf\ufe8d"
    assert as_drawn("\u0628\u064e\u0628") == "\ufe90\ufe91"


def test_fonts_are_looked_for_where_linux_macos_and_windows_keep_them() -> None:
    """Folders from memory: those that fontconfig lists, Apple's for all and for one, and that of Windows."""
    assert list(FONT_FOLDERS) == [
        *("/usr/share/fonts", "/usr/local/share/fonts", "~/.local/share/fonts", "~/.fonts"),
        *("/System/Library/Fonts/Supplemental", "/Library/Fonts", "~/Library/Fonts", "C:/Windows/Fonts"),
    ]
    assert {(str(plain.parent), plain.name, bold.name) for plain, bold in paper._WIDE_FONTS} == {
        ("/usr/share/fonts/truetype/dejavu", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
        ("/usr/share/fonts/dejavu-sans-fonts", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
        ("/usr/share/fonts/truetype/noto", "NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
        ("/System/Library/Fonts/Supplemental", "Arial.ttf", "Arial Bold.ttf"),
        ("C:/Windows/Fonts", "arial.ttf", "arialbd.ttf"),
    }


SIGNS = st.text(st.sampled_from(f"{ALEF}{BET}{GIMEL}\u0628\u0644ab12 ()[]<>,.:;-/«»"), max_size=40)


@settings(max_examples=400, deadline=None)
@given(SIGNS)
def test_no_letter_is_lost_or_made(text: str) -> None:
    drawn = unicodedata.normalize("NFKC", as_drawn(text))
    brackets = re.compile(r"[()\[\]<>«»]")
    assert Counter(brackets.sub("", drawn)) == Counter(brackets.sub("", text))
    assert len(brackets.findall(drawn)) == len(brackets.findall(text))


@settings(max_examples=200, deadline=None)
@given(st.text(st.characters(max_codepoint=0x58F), max_size=40))
def test_what_runs_from_left_to_right_stays(text: str) -> None:
    assert as_drawn(text) == text and not begins_right_to_left(text)


@pytest.mark.parametrize(("char", "refused"), [("a", 0), (ALEF, 0), ("\u0628", 0), ("\u0710", 1), ("\u0780", 1)])
def test_scripts_that_would_come_out_apart_are_not_set(char: str, refused: bool) -> None:
    assert cannot_be_set(char) is bool(refused)


def test_a_letter_is_drawn_in_its_forms_and_a_point_of_a_letter_in_none() -> None:
    """Forms of beh: Unicode code charts, Arabic Presentation Forms-B; U+05B8 and U+064E are points (category Mn)."""
    assert forms_of("a") == ("a",) and forms_of(ALEF) == (ALEF,)
    assert sorted(forms_of("\u0628")) == ["\ufe8f", "\ufe90", "\ufe91", "\ufe92"]
    assert forms_of("\u064e") == () and forms_of("\u05b8") == ()


def test_the_packages_named_are_those_that_have_the_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("receiving.closing.writing.font_file_named", lambda name: None)
    assert packages_with("\uae40") == ("fonts-nanum",)
    assert packages_with("\u738b") == ("fonts-droid-fallback",)
    assert packages_with(f"{ALEF}\u0628") == ("fonts-dejavu-core",)
    assert packages_with("\u0710") == () and packages_with("\u0e2a") == ()


def test_letters_that_the_own_font_has_stay_in_it() -> None:
    own = frozenset(map(ord, "abc \u738b"))
    assert font_runs("ab \u738bc", "own", own) == [("ab \u738bc", "own")]
    assert font_runs("", "own", own) == []
    assert [run for run, _ in font_runs("a\u0e2ab", "own", own)] == ["a\u0e2ab"], "a character that none has"
