"""Labels on paper: which cartons, which stock, where on a used sheet."""

import io
import re

import pytest
import zxingcpp
from PIL import Image

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Place, Source
from tests.closing.printed import pdfium


def pages(pdf: bytes) -> int:
    assert pdf.startswith(b"%PDF-")
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def test_every_stock_that_is_offered_prints(ctx: service.Context) -> None:
    stocks = service.list_label_stocks()
    assert stocks[0].name == "4x6in"
    for stock in stocks:
        assert pages(service.make_labels_pdf(ctx, "S-1", "all", stock=stock.name)) == -(-3 // stock.per_page), stock


def test_labels_start_at_the_first_free_place_of_a_used_sheet(ctx: service.Context) -> None:
    assert pages(service.make_labels_pdf(ctx, "S-1", "all", stock="a4-4up", first_place=2)) == 1
    assert pages(service.make_labels_pdf(ctx, "S-1", "all", stock="a4-4up", first_place=3)) == 2
    with pytest.raises(BadRequest, match="place 5 is not on a sheet of 4"):
        service.make_labels_pdf(ctx, "S-1", "all", stock="a4-4up", first_place=5)


def test_the_missing_ones_alone_are_printed(ctx: service.Context) -> None:
    scan = "]C100395200000000000012"
    service.add_scan(ctx, "S-1", scan, place=Place.DOCK, by="Ada", source=Source.SCANNER)
    assert pages(service.make_labels_pdf(ctx, "S-1", "missing")) == 2


def test_a_label_picture_has_the_size_of_its_stock(ctx: service.Context) -> None:
    picture = Image.open(io.BytesIO(service.make_label_png(ctx, "S-1", "02", stock="a6")))
    assert [round(px * 25.4 / 300) for px in picture.size] == [105, 148]
    with pytest.raises(BadRequest, match="'99'"):
        service.make_label_png(ctx, "S-1", "99")


def test_place_stickers_name_each_place_of_the_cartons_once(ctx: service.Context) -> None:
    for stock in service.list_sticker_stocks():
        sheets = -(-2 // stock.per_page)
        assert pages(service.make_place_stickers_pdf(ctx, "S-1", ["02", "03"], stock=stock.name)) == sheets, stock
    assert pages(service.make_place_stickers_pdf(ctx, "S-1", ["02", "02"])) == 1


def test_place_stickers_are_by_default_for_cartons_without_a_code(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="None of these cartons is for a place"):
        service.make_place_stickers_pdf(ctx, "S-1")
    bare = "shipment,store,carton,kind,section,column,row\nS-7,0417,A,tray,Harbor,1,1\nS-7,0417,A,tray,Harbor,2,1\n"
    service.import_manifest(ctx, "bare.csv", bare.encode())
    assert pages(service.make_place_stickers_pdf(ctx, "S-7")) == 2
    scanned = service.add_scan(ctx, "S-7", "COLUMN 2 ROW 1", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    assert scanned.carton == "A"


def test_a_sticker_stock_that_is_not_there_is_named_with_those_that_are(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="no sticker stock '9x9'") as fault:
        service.make_place_stickers_pdf(ctx, "S-1", ["02"], stock="9x9")
    assert "3x2in" in str(fault.value.next_step)


def test_a_place_sticker_says_its_place_in_words_and_as_a_symbol(ctx: service.Context) -> None:
    bare = "shipment,store,carton,kind,section,column,row\nS-7,0417,A,tray,Harbor,1,12\nS-7,0417,A,tray,Harbor,2,1\n"
    service.import_manifest(ctx, "bare.csv", bare.encode())
    document = pdfium.PdfDocument(service.make_place_stickers_pdf(ctx, "S-7"))
    read = [zxingcpp.read_barcode(page.render(scale=4).to_pil()) for page in document]
    assert [found and found.text for found in read] == ["SECTION Harbor COL 1 ROW 12", "SECTION Harbor COL 2 ROW 1"]
    printed = [page.get_textpage().get_text_range().split() for page in document]
    assert [sorted(words) for words in printed] == [
        ["1", "12", "COL", "Harbor", "ROW"],
        ["1", "2", "COL", "Harbor", "ROW"],
    ]
