"""A shipper's own headings: which of them is which column, chosen once beside the first rows of the table."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import ClassVar

from receiving.errors import BadRequest, Fault, ManifestFaults
from receiving.messages import Message, Text, joined, message, plural
from receiving.model import CartonKind
from receiving.service import ColumnMapping, DateForm, DecimalSign, TableSample
from web.pages.cartons import Option
from web.pages.problem import FieldLink

DATE_WORDS = {
    DateForm.YMD: message("year, month, day (2026-03-09)"),
    DateForm.DMY: message("day, month, year (9.3.2026)"),
    DateForm.MDY: message("month, day, year (3/9/2026)"),
}
DECIMAL_WORDS = {DecimalSign.POINT: message("point (1,234.5)"), DecimalSign.COMMA: message("comma (1.234,5)")}
CONSTANTS = {"shipment": message("Shipment"), "store": message("Store"), "kind": message("Kind of carton")}

USUAL_HEADINGS = {
    "shipment": (
        "asn", "delivery", "delivery_no", "shipment_no", "shipment_id", "consignment", "load",
        "lieferung", "liefernummer", "lieferschein", "lieferschein_nr.", "sendung", "sendungsnummer",
    ),
    "store": (
        "ship_to", "store_no", "store_number", "location", "site", "branch", "deliver_to",
        "filiale", "filialnummer", "markt", "empfänger",
    ),
    "carton": (
        "box", "box_no", "carton_no", "carton_number", "case", "case_no", "package", "package_no", "parcel",
        "karton", "kartonnummer", "packstück", "packstücknummer", "kolli",
    ),
    "sscc": ("sscc18", "sscc_18", "serial_shipping_container_code", "nve"),
    "barcode": ("label", "label_no", "carton_barcode", "license_plate", "lpn", "etikett"),
    "tracking": ("tracking_no", "tracking_number", "parcel_no", "waybill", "paketnummer", "sendungsverfolgung"),
    "item": (
        "sku", "item_no", "item_number", "article", "article_no", "part", "part_no", "part_number", "material",
        "artikel", "artikelnr.", "artikelnummer",
    ),
    "item_numbers": ("gtin", "ean", "upc"),
    "description": ("item_description", "text", "name", "product", "bezeichnung", "beschreibung"),
    "qty": ("quantity", "pieces", "pcs", "units", "count", "qty_shipped", "menge", "stück", "anzahl"),
    "unit": ("uom", "unit_of_measure", "einheit", "mengeneinheit"),
    "weight_kg": (
        "kg", "weight_(kg)", "gross_weight_(kg)", "gewicht", "gewicht_kg", "bruttogewicht",
    ),
    "weight_lb": ("lb", "lbs", "weight_(lb)", "weight_lbs", "gross_weight_(lb)"),
    "length_cm": ("length_(cm)", "länge", "länge_cm", "länge_(cm)"),
    "width_cm": ("width_(cm)", "breite", "breite_cm", "breite_(cm)"),
    "height_cm": ("height_(cm)", "höhe", "höhe_cm", "höhe_(cm)"),
    "visit_date": ("visit", "reset_date", "install_date", "set_date", "aufbautag", "umbautag", "termin"),
    "kind": ("type", "carton_type", "category", "art", "kartonart"),
    "section": ("fixture", "department", "area", "abteilung", "regal"),
}  # fmt: skip
"""What shippers call the columns; common practice, no source. The person who maps them sees and changes the guess;
a weight without its unit is left to that person."""


@dataclass(frozen=True)
class HeadingChoice:
    """One heading of the table with the columns that it may be, and what stands below it."""

    number: int
    heading: Text
    options: tuple[Option, ...]
    wrong: bool


@dataclass(frozen=True)
class ConstantField:
    """What every row has in a column that the table lacks."""

    column: str
    label: Text
    value: str
    wrong: bool


@dataclass(frozen=True)
class ImportsColumnsPage:
    """The headings of a table to map. ``ticket`` stands for the file that was chosen."""

    template: ClassVar[str] = "imports_columns.html"
    title: ClassVar[Text] = message("Whose columns are these?")

    name: str
    ticket: str
    trouble: tuple[FieldLink, ...]
    shipper: str
    headings: tuple[HeadingChoice, ...]
    rows: tuple[tuple[str, ...], ...]
    dates: tuple[Option, ...]
    decimals: tuple[Option, ...]
    constants: tuple[ConstantField, ...]
    kinds: str = ", ".join(kind.value for kind in CartonKind)


def columns_page(
    sample: TableSample,
    columns: Sequence[str],
    *,
    name: str,
    ticket: str,
    trouble: Sequence[FieldLink] = (),
    chosen: ColumnMapping | None = None,
) -> ImportsColumnsPage:
    """The page for one table; ``chosen`` is what is kept or was sent, ``trouble`` why it could not be taken."""
    picked = dict(chosen.columns) if chosen else guess_columns(sample.headings, columns)
    constants = dict(chosen.constants) if chosen else {}
    width, faulty = len(sample.headings), {link.anchor for link in trouble}
    return ImportsColumnsPage(
        name,
        ticket,
        tuple(trouble),
        chosen.shipper if chosen else "",
        tuple(
            HeadingChoice(
                at,
                heading or message("column {number}", number=at + 1),
                _options(columns, picked.get(heading, "")),
                f"column-{at}" in faulty,
            )
            for at, heading in enumerate(sample.headings)
        ),
        tuple((*row[:width], *("",) * (width - len(row))) for row in sample.rows),
        tuple(
            Option(form.value, words, form is (chosen.date_form if chosen else guessed_dates(sample)))
            for form, words in DATE_WORDS.items()
        ),
        tuple(
            Option(sign.value, words, sign is (chosen.decimal if chosen else guessed_decimals(sample)))
            for sign, words in DECIMAL_WORDS.items()
        ),
        tuple(
            ConstantField(column, label, constants.get(column, ""), f"constant-{column}" in faulty)
            for column, label in CONSTANTS.items()
        ),
    )


def field_links(fault: BadRequest, headings: Sequence[str]) -> tuple[FieldLink, ...]:
    """Why a mapping could not be kept: the whole first, leading to its one field, then each field that it is about."""

    def anchor(field: str, which: str) -> str:
        if field == "heading":
            return f"column-{headings.index(which)}" if which in headings else ""
        return f"constant-{which}" if field == "constant" and which in CONSTANTS else "column-0"

    own = FieldLink(joined(fault.message, fault.next_step), fault.field)
    return (own, *(FieldLink(each.message, anchor(each.field, each.which)) for each in fault.fields))


def cell_links(faults: Iterable[Fault], width: int) -> tuple[FieldLink, ...]:
    """The faults of a table's cells, each leading to the choice for its column, where it has one."""
    return tuple(
        FieldLink(each.words, f"column-{each.column - 1}" if 1 <= each.column <= width else "") for each in faults
    )


def known_words(shipper: str, faults: int) -> Message:
    """What is said above the faults of a table whose columns are kept."""
    return plural(
        faults,
        "The columns of shipper {shipper} are known; {number} cell or line of this file cannot be read.",
        "The columns of shipper {shipper} are known; {number} cells or lines of this file cannot be read.",
        shipper=shipper,
    )


def guess_columns(headings: Sequence[str], columns: Sequence[str]) -> dict[str, str]:
    """The likeliest column of each heading, each column once; nothing where none is likely."""
    usual = {name: column for column, names in USUAL_HEADINGS.items() for name in (column, *names)}
    usual |= {column: column for column in columns}
    found: dict[str, str] = {}
    for heading in headings:
        name = "_".join(heading.casefold().replace("-", " ").replace("_", " ").replace("#", "no").split())
        near = [name] if name in usual else get_close_matches(name, usual, n=1, cutoff=0.85)
        column = usual[near[0]] if near else ""
        if column and column not in found.values():
            found[heading] = column
    return found


def guessed_dates(sample: TableSample) -> DateForm:
    """The order of day and month that the sample shows: points say day first, a number above 12 says which is which."""
    for cell in (cell for row in sample.rows for cell in row):
        found = re.fullmatch(r"([0-9]{1,2})([./-])([0-9]{1,2})[./-][0-9]{2,4}", cell)
        if found and (found[2] == "." or int(found[1]) > 12):
            return DateForm.DMY
        if found and int(found[3]) > 12:
            return DateForm.MDY
    return DateForm.YMD


def guessed_decimals(sample: TableSample) -> DecimalSign:
    """Comma where a number with one or two digits behind a comma stands in the sample."""
    cells = (cell for row in sample.rows for cell in row)
    return DecimalSign.COMMA if any(re.fullmatch(r"[0-9]+,[0-9]{1,2}", cell) for cell in cells) else DecimalSign.POINT


def mapping_trouble(
    fault: ManifestFaults | BadRequest, sample: TableSample, chosen: ColumnMapping | None
) -> tuple[FieldLink, ...]:
    """What is wrong with the table as it is read now, or with the mapping that was sent."""
    if isinstance(fault, BadRequest):
        return tuple(field_links(fault, sample.headings))
    known = (FieldLink(known_words(chosen.shipper, len(fault.faults)), ""),) if chosen else ()
    return (*known, *cell_links(fault.faults, len(sample.headings)))


def mapping_sent(form: dict[str, str], sample: TableSample) -> ColumnMapping:
    """The mapping as the page sent it; it is checked where it is kept."""
    pairs = ((heading, form.get(f"column-{at}", "")) for at, heading in enumerate(sample.headings))
    constants = ((column, form.get(f"constant-{column}", "").strip()) for column in CONSTANTS)
    dates, signs = {form.value: form for form in DateForm}, {sign.value: sign for sign in DecimalSign}
    return ColumnMapping(
        form.get("shipper", "").strip(),
        tuple((heading, column) for heading, column in pairs if heading and column),
        dates.get(form.get("date_form", ""), DateForm.YMD),
        signs.get(form.get("decimal", ""), DecimalSign.POINT),
        tuple((column, value) for column, value in constants if value),
    )


def _options(columns: Sequence[str], chosen: str) -> tuple[Option, ...]:
    return (
        Option("", message("not used"), not chosen),
        *(Option(column, column.replace("_", " "), column == chosen) for column in columns),
    )
