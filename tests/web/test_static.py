"""What the pages bring along: libraries as they were published, and style sheets of one scale of type and spacing."""

import hashlib
import re
from pathlib import Path

import pytest

import web

VENDOR = Path(__file__).resolve().parents[2] / "web" / "static" / "vendor"


def test_each_file_is_the_one_that_was_looked_at() -> None:
    sums = dict(line.split()[::-1] for line in (VENDOR / "SHA256SUMS").read_text().splitlines())
    scripts = {str(path.relative_to(VENDOR)): path for path in VENDOR.rglob("*") if path.suffix in (".js", ".wasm")}
    assert {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in scripts.items()} == sums


def test_each_library_has_its_licence() -> None:
    folders = [path for path in VENDOR.iterdir() if path.is_dir()]
    assert folders
    assert all((folder / "LICENSE").read_text().strip() for folder in folders)


# --- one scale of type and one of spacing, held against published ones; no style sheet uses a size outside of them
# Sources, in px at a root size of 16 px:
# - USWDS: designsystem.digital.gov/design-tokens/spacing-units and .../typesetting/font-size (theme tokens as published
#   there; of the system tokens 18, 20, 24, 28 and 36 from memory).
# - GOV.UK Design System: design-system.service.gov.uk/styles/spacing (units 0 to 9) and /styles/type-scale (from
#   memory).
# - Primer: primer.style/foundations/primitives, base sizes and text sizes (from memory).


STYLES = sorted((Path(web.__file__).parent / "static").glob("*.css"))
USWDS_SPACING = {1, 2, 4, 8, 12, 16, 20, 24, 32, 40, 48, 56, 64, 72, 80, 120}
PRIMER_SPACING = {2, 4, 6, 8, 12, 16, 20, 24, 28, 32, 36, 40, 44, 48, 64, 80, 96, 112, 128}
GOVUK_SPACING = {0, 5, 10, 15, 20, 25, 30, 40, 50, 60}
USWDS_TYPE = {10, 12, 13, 14, 15, 16, 17, 18, 20, 22, 24, 28, 32, 36, 40, 48}
GOVUK_TYPE = {16, 19, 24, 27, 36, 48, 80}
PRIMER_TYPE = {12, 14, 16, 20, 32, 40}
ALLOWED = {"0", "auto", "inherit", "-1px"}
"""Beside the scale: nothing, the rest, and the one pixel by which a text for screen readers alone is out of sight."""


def scale(name: str) -> list[float]:
    """The sizes of a scale of ours in px, as the style sheet has them, in their order."""
    base = next(path for path in STYLES if path.name == "base.css").read_text(encoding="utf-8")
    return [16 * float(rem) for rem in re.findall(rf"--{name}(?:-\w+)?: ([\d.]+)rem;", base)]


def declared(path: Path, names: str) -> list[str]:
    text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    return [value.strip() for value in re.findall(rf"(?<![\w-])(?:{names}):([^;}}]+)", text)]


def test_spacing_is_of_the_published_scales() -> None:
    ours = scale("space")
    assert ours == [2, 4, 8, 12, 16, 24, 32]
    assert set(ours) <= USWDS_SPACING & PRIMER_SPACING
    assert max(min(abs(each - step) for step in GOVUK_SPACING) for each in ours) <= 2


def test_type_is_of_the_published_scales() -> None:
    ours = scale("text")
    assert ours == [12, 14, 16, 20, 24, 32, 40]
    assert set(ours) <= USWDS_TYPE
    assert set(ours) - PRIMER_TYPE == {24}
    assert max(min(abs(each - step) for step in GOVUK_TYPE) for each in ours) <= 4


@pytest.mark.parametrize("path", STYLES, ids=lambda path: path.name)
def test_no_text_has_a_size_outside_the_scale(path: Path) -> None:
    sizes = declared(path, "font-size")
    assert [
        size for size in sizes if not re.fullmatch(r"(?:var\(--text(?:-\w+)?\)|inherit|100%)(?: !important)?", size)
    ] == []


@pytest.mark.parametrize("path", STYLES, ids=lambda path: path.name)
def test_no_space_has_a_size_outside_the_scale(path: Path) -> None:
    names = r"(?:margin|padding)(?:-(?:block|inline|top|right|bottom|left|start|end))*|(?:row-|column-)?gap"
    wrong = []
    for value in declared(path, names):
        free = re.sub(r"var\(--[\w-]+\)|env\([\w-]+\)|\b\d+vw\b|calc\(50vw - 32rem\)", "", value)
        lengths = re.findall(r"-?\d*\.?\d+(?:px|rem|em)", free)
        wrong += [value for length in lengths if length not in ALLOWED]
    assert wrong == []
