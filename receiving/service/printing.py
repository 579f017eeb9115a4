"""Labels on paper, for one carton, a whole shipment, or the cartons that are missing; and the settings of the house.

The settings: units on pages and papers, the sender on labels, the printer, the host of printed links.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace

from receiving import closing
from receiving.closing import LINK_HOST, RESOLUTIONS, STOCKS, LabelExtras, LabelPrint, Stock, check_letters
from receiving.errors import BadRequest, NotFound, words_of_error
from receiving.messages import ENGLISH, Speaker, Text, message
from receiving.model import Access, Carton, CartonState, Manifest, Sscc, Units
from receiving.service.context import Context
from receiving.service.queries import ShipmentView, get_shipment
from receiving.service.snapshot import snapshot
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.store import DocumentKind, Store

LEAST_PHOTO_DAYS, MOST_PHOTO_DAYS = 30, 36_500
"""A visit, its receipt and the claims that follow are not over sooner: assumed, common practice, no source."""
_MOST_LINES, _LONGEST_LINE = 3, 60


@dataclass(frozen=True)
class Settings:
    """What is set. ``sender`` are the lines of the sender on labels, ``dpi`` and ``offset_mm`` those of the printer.

    Photos go after ``photo_days`` in which nothing happened to their shipments; None keeps them.
    """

    units: Units = Units.METRIC
    sender: tuple[str, ...] = ()
    link_host: str = LINK_HOST
    dpi: int = 300
    offset_mm: tuple[float, float] = (0.0, 0.0)
    photo_days: int | None = None


def get_settings(ctx: Context) -> Settings:
    """The settings in use."""
    with ctx.store() as store:
        return settings_of(store)


def settings_of(store: Store) -> Settings:
    """The settings in use; those of the house where nobody has set any."""
    document = store.document(DocumentKind.SETTINGS)
    if document is None:
        return Settings()
    kept = json.loads(document.body)
    right, down = kept["offset_mm"]
    return Settings(
        Units(kept["units"]),
        tuple(kept["sender"]),
        kept["link_host"],
        kept["dpi"],
        (right, down),
        kept.get("photo_days"),
    )


def save_settings(ctx: Context, new: Settings) -> Settings:
    """Use these settings from now on. Raises BadRequest."""
    sender = tuple(line for line in (" ".join(line.split()) for line in new.sender) if line)
    if len(sender) > _MOST_LINES or any(len(line) > _LONGEST_LINE for line in sender):
        step = message("Use at most {lines} lines of {limit} characters.", lines=_MOST_LINES, limit=_LONGEST_LINE)
        raise BadRequest(message("The sender is too long for a label."), next_step=step, field="sender")
    for line in sender:
        refuse_hidden_characters({"sender": line}, lines=False)
        _refuse_unprintable(line)
    host = new.link_host.strip().rstrip("/") or LINK_HOST
    if new.photo_days is not None and not LEAST_PHOTO_DAYS <= new.photo_days <= MOST_PHOTO_DAYS:
        step = message(
            "Give {least} to {most} days, or nothing to keep them.", least=LEAST_PHOTO_DAYS, most=MOST_PHOTO_DAYS
        )
        raise BadRequest(
            message("Photos cannot be removed after {days} days.", days=new.photo_days),
            next_step=step,
            field="photo_days",
        )
    kept = replace(new, sender=sender, link_host=host)
    label_print(kept, "4x6in")  # a resolution, offset or host that no label can have is refused here
    with ctx.transaction() as store:
        body = json.dumps(asdict(kept), ensure_ascii=False)
        store.add_document(DocumentKind.SETTINGS, "", body, file_name="settings", added_at=ctx.now())
    return kept


def _refuse_unprintable(line: str) -> None:
    """A sender that no label can print is refused here, before each label would be."""
    try:
        check_letters(line)
    except BadRequest as fault:
        raise BadRequest(fault.message, next_step=fault.next_step, field="sender") from None


def label_print(kept: Settings, stock: str, dpi: int | None = None, *, speaker: Speaker = ENGLISH) -> LabelPrint:
    """How labels are printed on this stock; ``dpi`` where another printer than the usual one is meant."""
    extras = LabelExtras(kept.sender, pounds=kept.units is Units.US, link_host=kept.link_host)
    return LabelPrint(stock, dpi or kept.dpi, kept.offset_mm, extras, speaker)


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
