"""An invented store with two sections, a context whose clock stands still, and a reader that gives what is planned."""

from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image, ImageDraw

from receiving import service
from receiving.model import PHOTO_ADVICE, PhotoReading, Place, Quad, Source, Symbol, UnreadRegion, mod10_check_digit
from tests.planned_reader import PlannedReader

NOW = datetime(2026, 3, 5, 9, 30, tzinfo=UTC)
SHIPMENT = "S-2041/A"
"""With a slash on purpose: ids are text, and must survive in addresses."""

ADDRESS = "/s/S-2041~2FA"
REP_PAGES = (
    "/",
    "/outbox",
    ADDRESS,
    f"{ADDRESS}/stage",
    f"{ADDRESS}/hand-over",
    f"{ADDRESS}/cartons/09",
    f"{ADDRESS}/cartons/12",
    f"{ADDRESS}/cartons/20",
    f"{ADDRESS}/plan",
    f"{ADDRESS}/contents",
    f"{ADDRESS}/receipt",
)
"""Pages that a rep opens in a visit."""

OTHER_PAGES = (
    "/scanner",
    f"{ADDRESS}/cartons/04",
    f"{ADDRESS}/bay-sheets",
    f"{ADDRESS}/before-the-visit",
    f"{ADDRESS}/links",
    f"{ADDRESS}/manifest",
    f"{ADDRESS}/planogram",
    f"{ADDRESS}/planogram/03",
    f"{ADDRESS}/labels?carton=12",
    f"{ADDRESS}/void",
    f"{ADDRESS}/receipts/1",
    "/overview",
    "/import",
    "/programme",
    "/call-list",
    "/swaps",
    "/stores/0417/request",
    "/office",
    "/office/settings",
    "/office/patterns",
    "/office/layouts/0417",
    "/office/kit",
    "/office/kit/moves",
    "/office/parts",
    "/people",
    "/people/audit",
    "/api-tokens",
    "/webhooks",
    "/sign-in",
    "/trust",
    "/nowhere",
)
"""All others that a person opens, once there is a receipt; the last one is not there."""


def sscc(serial: int) -> str:
    body = f"39520000{serial:09d}"
    return body + mod10_check_digit(body)


def _rows() -> list[str]:
    rows = []

    def add(carton: str, kind: str, *places: tuple[str, int | str, int | str, str, int], **more: object) -> None:
        sizes = f"{more.get('kg', 8)},60,40,30"
        for section, column, row, item, qty in places:
            outer = "" if kind == "outer" else more.get("outer", "")
            rows.append(
                f"{SHIPMENT},0417,{carton},{sscc(int(carton))},{outer},{kind},{section},{column},{row},"
                f"{more.get('first', 'no')},{item},{item.replace('-', ' ').lower()},{qty},ea,{sizes},2026-03-06"
            )

    add("01", "instructions", ("Harbor Lane", "", "", "GUIDE", 1), first="yes", kg=1.2)
    add("02", "tags", ("Harbor Lane", "", "", "TAG-RUN", 24), first="yes", kg=0.8)
    number = 3
    for section, columns, rows_n in (("Harbor Lane", 6, 2), ("Moss & Fern", 3, 2)):
        for column in range(1, columns + 1):
            places = [(section, column, row, f"TRAY-{section[0]}{column}{row}", 1) for row in range(1, rows_n + 1)]
            add(f"{number:02d}", "tray", *places, kg=6 + column)
            number += 1
    add("12", "header", ("Harbor Lane", 1, 1, "HEADER-H", 1), kg=24.5)
    add("13", "graphic", ("Moss & Fern", "", "", "GRAPHIC-M", 6), kg=2.1)
    add("20", "outer", ("Moss & Fern", "", "", "OUTER", 1), kg=31)
    add("21", "parts", ("Moss & Fern", "", "", "BRACKET", 12), outer="20", kg=3)
    add("22", "lighting", ("Moss & Fern", 2, 1, "LIGHT-M2", 2), outer="20", kg=2)
    rows += [
        f"S-2055,0422,{n:02d},{sscc(100 + n)},,tray,Harbor Lane,{n},1,no,TRAY-H{n}1,tray,1,ea,6,60,40,30,2026-03-09"
        for n in range(1, 5)
    ]
    return rows


MANIFEST = "\n".join(
    [
        "shipment,store,carton,sscc,outer,kind,section,column,row,open_first,item,description,qty,unit,"
        "weight_kg,length_cm,width_cm,height_cm,dispatch_date",
        *_rows(),
    ]
)

LAYOUT = """\
[store]
id = "0417"
walk_m = 60
[cart]
max_load_kg = 110
deck_length_cm = 120
deck_width_cm = 60
stack_height_cm = 100
""" + "\n".join(
    f'[[bay]]\nid = "{bay}"\nsection = "{section}"\ncolumns = {columns}\nwidth_cm = 122\n'
    f"staging_length_cm = 122\nstaging_depth_cm = 60\norder = {order}"
    for order, (bay, section, columns) in enumerate(
        [("B1", "Harbor Lane", [1, 2, 3]), ("B2", "Harbor Lane", [4, 5, 6]), ("B3", "Moss & Fern", [1, 2, 3])], 1
    )
)


DATABASE = "receiving.sqlite"


@cache
def _loaded_database() -> bytes:
    """The scenario as it is stored: imported once, since every test starts from it."""
    with TemporaryDirectory() as folder:
        with service.Context(Path(folder), PlannedReader(), now=lambda: NOW) as ctx:
            service.import_manifest(ctx, "manifest.csv", MANIFEST.encode())
            service.import_layout(ctx, "layout.toml", LAYOUT.encode())
        assert [path.name for path in Path(folder).glob("*.sqlite*")] == [DATABASE]  # no journal that holds a part
        return (Path(folder) / DATABASE).read_bytes()


def open_context(folder: Path, reader: PlannedReader) -> service.Context:
    """A context with the scenario; one that was opened in this folder before goes on where it was."""
    if not (folder / DATABASE).exists():
        (folder / DATABASE).write_bytes(_loaded_database())
    numbers = count(1)
    return service.Context(
        folder, reader, now=lambda: NOW, new_id=lambda: f"00000000-0000-4000-8000-{next(numbers):012d}"
    )


def box(x: float, y: float, width: float = 300, height: float = 160) -> Quad:
    return ((x, y), (x + width, y + 20), (x + width - 10, y + height + 20), (x - 10, y + height))


def picture(colour: str = "#b58a5a", size: tuple[int, int] = (1200, 900)) -> bytes:
    """A pile of boxes with white labels, where `pile_reading` says that they are."""
    image = Image.new("RGB", size, colour)
    draw = ImageDraw.Draw(image)
    for x, y in ((120, 120), (640, 180), (240, 520), (760, 560)):
        draw.rectangle((x - 60, y - 60, x + 400, y + 270), outline="#7a5a34", width=6)
        draw.polygon(box(x, y), fill="white")
        for stripe in range(30, 270, 9):
            draw.line((x + stripe, y + 40, x + stripe, y + 120), fill="black", width=3 + stripe % 4)
    file = BytesIO()
    image.save(file, "JPEG", quality=88)
    return file.getvalue()


def pile_reading() -> PhotoReading:
    """Two cartons, one guided read, one label that nobody could read."""
    return PhotoReading(
        width_px=1200,
        height_px=900,
        symbols=(
            Symbol(f"00{sscc(3)}", "]C1", box(120, 120), "zxing", label=1),
            Symbol(f"00{sscc(4)}", "]C1", box(640, 180), "zxing", label=2),
            Symbol(f"00{sscc(5)}", "]C1", box(240, 520), "guided", label=3, guided=True, confidence=0.97),
        ),
        unread=(UnreadRegion(box(760, 560)),),
        advice=PHOTO_ADVICE["dark"].text,
        ms=80,
    )


def fill(ctx: service.Context) -> str:
    """Something of everything: found, extra, asked, photographed; gives the photo's id."""
    for serial in (3, 12, 20, 102):
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.DOCK, by="Bo", source=Source.SCANNER)
    service.add_scan(ctx, SHIPMENT, "COLUMN 2 ROW 1", place=Place.OVERHEAD, by="Bo", source=Source.TYPED)
    photo = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada").photo
    service.finish_photos(ctx)
    return photo
