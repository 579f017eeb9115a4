"""Labels on paper: for one carton, a whole shipment, or the cartons that are missing."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving import closing
from receiving.closing import RESOLUTIONS, STOCKS, Stock
from receiving.errors import BadRequest, NotFound, words_of_error
from receiving.messages import ENGLISH, Speaker, Text, message
from receiving.model import Access, Carton, CartonState, Manifest, Sscc
from receiving.service.context import Context
from receiving.service.house_settings import Settings, label_print, settings_of
from receiving.service.queries import ShipmentView, get_shipment
from receiving.service.snapshot import snapshot

ALL, MISSING = "all", "missing"


@dataclass(frozen=True)
class LabelStock:
    """A label stock to choose: its name in requests, its words, and how many labels one sheet has."""

    name: str
    words: Text
    per_page: int


@dataclass(frozen=True)
class LabelChoice:
    """What labels of a shipment can be printed on: stocks, sticker stocks, resolutions with the usual one (``dpi``).

    ``fault`` says why the one label that was asked for cannot be drawn.
    """

    view: ShipmentView
    stocks: tuple[LabelStock, ...]
    stickers: tuple[LabelStock, ...]
    resolutions: tuple[int, ...]
    dpi: int
    fault: BadRequest | None


def get_label_choice(
    ctx: Context, shipment: str, *, drawn: str = "", stock: str = "4x6in", speaker: Speaker = ENGLISH
) -> LabelChoice:
    """What to choose from to print labels; the label of the carton that is ``drawn`` is tried on. Raises NotFound."""
    with ctx.moment() as store:
        view, kept = get_shipment(ctx, shipment), settings_of(store)
    fault = None
    try:
        if drawn:
            closing.label_png(carton_on(view.manifest, drawn), view.manifest, label_print(kept, stock, speaker=speaker))
    except BadRequest as found:
        fault = found
    return LabelChoice(view, list_label_stocks(), list_sticker_stocks(), RESOLUTIONS, kept.dpi, fault)


def list_label_stocks() -> tuple[LabelStock, ...]:
    """The label stocks that there are, the usual one first."""
    return tuple(LabelStock(stock.name, stock.words, stock.per_page) for stock in STOCKS)


def list_label_resolutions() -> tuple[int, ...]:
    """The resolutions of label printers, in dots per inch."""
    return RESOLUTIONS


def make_labels_pdf(
    ctx: Context,
    shipment: str,
    cartons: Iterable[str] | str,
    *,
    stock: str = "4x6in",
    first_place: int = 1,
    dpi: int | None = None,
    speaker: Speaker = ENGLISH,
) -> bytes:
    """Labels as PDF: of the cartons named, of ``"all"``, or of the ``"missing"`` ones.

    ``first_place`` (from 1, row by row) is the first free place of a used sheet, ``dpi`` another printer's than is set.
    Raises NotFound, BadRequest.
    """
    manifest, chosen, kept = _chosen(ctx, shipment, cartons)
    return closing.labels_pdf(chosen, manifest, label_print(kept, stock, dpi, speaker=speaker), first_place=first_place)


def make_labels_for_printer(
    ctx: Context,
    shipment: str,
    cartons: Iterable[str] | str,
    *,
    stock: str = "4x6in",
    dpi: int | None = None,
    speaker: Speaker = ENGLISH,
) -> bytes:
    """The same labels as pictures in the language of label printers. Raises NotFound, BadRequest."""
    manifest, chosen, kept = _chosen(ctx, shipment, cartons)
    return closing.labels_raster(chosen, manifest, label_print(kept, stock, dpi, speaker=speaker))


def _chosen(ctx: Context, shipment: str, cartons: Iterable[str] | str) -> tuple[Manifest, tuple[Carton, ...], Settings]:
    with ctx.store() as store:
        found, kept = snapshot(ctx, store, store.shipment(shipment)), settings_of(store)
    if cartons == ALL:
        return found.manifest, found.manifest.cartons, kept
    if cartons == MISSING:
        return found.manifest, tuple(f.carton for f in found.reconciliation.in_state(CartonState.SHORT)), kept
    return found.manifest, tuple(carton_on(found.manifest, carton) for carton in cartons), kept


def _sticker_sheets() -> tuple[Stock, ...]:
    """Stock for place stickers: single ones for a label printer, and office paper to cut or peel."""
    return (
        Stock("3x2in", message("3 × 2 in sticker"), (76.2, 50.8), (76.2, 50.8)),
        Stock("a4-10up", message("A4 sheet, 10 stickers"), (210.0, 297.0), (105.0, 59.4), 2, 5, 6.0),
        Stock("letter-10up", message("Letter sheet, 10 stickers"), (215.9, 279.4), (107.95, 55.88), 2, 5, 6.0),
    )


def list_sticker_stocks() -> tuple[LabelStock, ...]:
    """The stock that place stickers are printed on, the usual one first."""
    return tuple(LabelStock(stock.name, stock.words, stock.per_page) for stock in _sticker_sheets())


def make_place_stickers_pdf(
    ctx: Context, shipment: str, cartons: Iterable[str] = (), *, stock: str = "3x2in", speaker: Speaker = ENGLISH
) -> bytes:
    """A sticker for each planogram place of these cartons, by default of those without any number.

    A carton whose label carries no code is found by the place on it, where no other carton is for that place.
    Raises NotFound, and BadRequest where there is no place to print or no such stock.
    """
    sheets = _sticker_sheets()
    sheet = next((each for each in sheets if each.name == stock), None)
    if sheet is None:
        raise BadRequest(
            message("There is no sticker stock {stock}.", stock=repr(stock[:40])),
            next_step=message("Use one of: {stocks}.", stocks=", ".join(s.name for s in sheets)),
        )
    with ctx.store() as store:
        manifest = store.revision(shipment).manifest
    chosen = [carton_on(manifest, carton) for carton in cartons] or without_code(manifest)
    places = sorted({address for carton in chosen for address in carton.addresses})
    if not places:
        raise BadRequest(
            message("None of these cartons is for a place with column and row."),
            next_step=message("Choose cartons that are, or print their carton labels."),
        )
    size, margin = sheet.label_mm, sheet.margin_mm
    drawings = [closing.position_label(each, size_mm=size, margin_mm=margin, speaker=speaker) for each in places]
    title = speaker.say(message("Place stickers of shipment {shipment}", shipment=shipment))
    return closing.drawings_pdf(drawings, sheet, title=title, language=speaker.code)


def without_code(manifest: Manifest) -> list[Carton]:
    """The cartons that have no SSCC, barcode or other number."""
    return [carton for carton in manifest if not carton.codes]


def make_label_png(
    ctx: Context, shipment: str, carton: str, *, stock: str = "4x6in", speaker: Speaker = ENGLISH
) -> bytes:
    """One carton's label as PNG, in the size of this stock. Raises NotFound, BadRequest."""
    with ctx.store() as store:
        manifest, kept = store.revision(shipment).manifest, settings_of(store)
    return closing.label_png(carton_on(manifest, carton), manifest, label_print(kept, stock, speaker=speaker))


def find_carton_with_sscc(ctx: Context, digits: str, access: Access) -> tuple[str, str]:
    """The shipment and carton with this SSCC, the shipment of the latest visit first, among those that are seen.

    A number with a wrong check digit is found where a manifest has exactly that number. Raises NotFound, and BadRequest
    where the digits are not an SSCC.
    """
    with ctx.store() as store:
        names = store.shipments_with_codes([digits])
        records = [record for record in store.shipments() if record.shipment in set(names)]
        records = [record for record in records if access.sees(record.shipment, record.store, record.programme)]
        for record in sorted(records, key=lambda r: (r.dispatch_date is not None, r.dispatch_date), reverse=True):
            found = next((c for c in store.revision(record.shipment).manifest if digits in c.codes), None)
            if found:
                return record.shipment, found.carton
    try:
        Sscc(digits)
    except ValueError as fault:
        text = message("{fault}.", fault=words_of_error(fault))
        raise BadRequest(text, next_step=message("Scan the label's code again.")) from None
    raise NotFound(
        message("No shipment here has a carton with SSCC {digits}.", digits=digits),
        next_step=message("Look for it by its number in the list of shipments."),
    )


def carton_on(manifest: Manifest, carton: str) -> Carton:
    """The carton with this id; raises BadRequest."""
    found = manifest.find(carton)
    if found is None:
        raise BadRequest(
            message(
                "Carton {carton} is not on the manifest of shipment {shipment}.",
                carton=repr(carton),
                shipment=repr(manifest.shipment),
            ),
            next_step=message("Choose a carton from the shipment's page."),
        )
    return found
