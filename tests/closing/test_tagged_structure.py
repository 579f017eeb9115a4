"""The structure of a tagged receipt as the file holds it (ISO 32000-1, 14.7, 14.8): every reference leads somewhere."""

import re
from dataclasses import replace

import pytest

from receiving.closing import receipt_pdf
from receiving.model import Receipt, ShownLine, Signature
from tests.closing.printed import pages
from tests.closing.test_printed_papers import ALL_WELL, TROUBLE, drawn

LONG = replace(
    ALL_WELL,
    shown=replace(
        ALL_WELL.shown, lines=tuple(ShownLine(f"{n:03}", "short", f"Carton {n:03}, tray: missing.") for n in range(150))
    ),
)


def objects(pdf: bytes) -> dict[int, str]:
    """The objects of the file by number, without what is in streams."""
    text = re.sub(rb"stream\r?\n.*?endstream", b"", pdf, flags=re.DOTALL).decode("latin-1")
    found = re.findall(r"^(\d+) 0 obj\n(.*?)\nendobj", text, re.DOTALL | re.MULTILINE)
    return {int(number): " ".join(body.split()) for number, body in found}


def elements(pdf: bytes) -> dict[int, str]:
    return {number: body for number, body in objects(pdf).items() if "/Type /StructElem" in body}


@pytest.mark.parametrize("receipt", [ALL_WELL, TROUBLE, LONG])
def test_every_piece_of_a_page_belongs_to_the_element_that_the_parent_tree_names(receipt: Receipt) -> None:
    pdf = receipt_pdf(receipt)
    count = len(pages(pdf))
    assert sorted(map(int, re.findall(rb"/StructParents (\d+)", pdf))) == list(range(count))
    assert len(re.findall(rb"/Tabs /S\b(?!~)", pdf)) == count, "the tab key follows the structure (table 30)"
    (root,) = [body for body in objects(pdf).values() if "/Type /StructTreeRoot" in body]
    nums = re.search(r"/Nums \[ (.*?) \] ?>>", root)
    assert nums
    lists = re.findall(r"(\d+) \[ ([^\]]*) \]", nums[1] + " ]")
    assert [int(number) for number, _ in lists] == list(range(count))
    next_key = re.search(r"/ParentTreeNextKey (\d+)", root)
    assert next_key and int(next_key[1]) >= count
    by_piece = {
        (page, place): int(reference)
        for page, references in ((int(number), re.findall(r"(\d+) 0 R", body)) for number, body in lists)
        for place, reference in enumerate(references)
    }
    page_numbers = [number for number, body in objects(pdf).items() if "/StructParents" in body]
    held = {
        (int(re.search(r"/StructParents (\d+)", objects(pdf)[int(page)])[1]), int(mark)): number  # type: ignore[index]
        for number, body in elements(pdf).items()
        for mark, page in re.findall(r"<< /MCID (\d+) /Pg (\d+) 0 R /Type /MCR >>", body)
    }
    assert len(page_numbers) == count and held == by_piece and held


@pytest.mark.parametrize("receipt", [ALL_WELL, TROUBLE, LONG])
def test_every_element_has_the_parent_that_holds_it(receipt: Receipt) -> None:
    found = elements(receipt_pdf(receipt))
    for number, body in found.items():
        parent = re.search(r"/P (\d+) 0 R", body)
        assert parent
        if "/S /Document" not in body:
            assert re.search(rf"/K \[[^\]]*\b{number} 0 R", found[int(parent[1])]), body
    assert sum("/S /Document" in body for body in found.values()) == 1


def test_heads_of_columns_say_so_and_cells_stand_in_rows_of_tables() -> None:
    found = elements(receipt_pdf(TROUBLE))
    kinds = {number: re.search(r"/S /(\w+)", body)[1] for number, body in found.items()}  # type: ignore[index]
    parents = {number: int(re.search(r"/P (\d+) 0 R", body)[1]) for number, body in found.items()}  # type: ignore[index]
    heads = [body for number, body in found.items() if kinds[number] == "TH"]
    assert len(heads) == 5
    for head in heads:
        assert re.search(r"/A << /O /Table /Scope /Column >>", head)
    for number, kind in kinds.items():
        if kind in ("TD", "TH"):
            assert kinds[parents[number]] == "TR"
        if kind == "TR":
            assert kinds[parents[number]] == "Table"
    assert not [body for number, body in found.items() if kinds[number] == "TD" and "/Scope" in body]


def test_the_signature_is_a_figure_with_its_words_and_the_file_says_its_language() -> None:
    pdf = receipt_pdf(replace(ALL_WELL, signature=Signature((((0, 0), (400, 100)),), 300)))
    (figure,) = [body for body in elements(pdf).values() if "/S /Figure" in body]
    assert "/Alt (Signature of Ida Berg)" in figure
    assert b"/Lang (en)" in pdf and b"/DisplayDocTitle true" in pdf and b"/Marked true" in pdf


def test_two_lines_stand_side_by_side_to_sign_on() -> None:
    lines = [box for box in drawn(receipt_pdf(ALL_WELL)) if box[3] - box[1] < 3 and 200 < box[2] - box[0] < 230]
    (left, right) = sorted(lines)
    assert left[1] == right[1] and left[2] < right[0]
