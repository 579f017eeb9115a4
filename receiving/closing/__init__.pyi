from receiving.closing.advice import (
    Parties as Parties,
    receiving_advice as receiving_advice,
)
from receiving.closing.bay_sheet_print import (
    bay_sheets_pdf as bay_sheets_pdf,
)
from receiving.closing.epcis import (
    check_names_base as check_names_base,
    receiving_events as receiving_events,
)
from receiving.closing.issued import (
    RECORD as RECORD,
    IssuedFile as IssuedFile,
    check_issued as check_issued,
    is_issued as is_issued,
    read_issued as read_issued,
    seal_pdf as seal_pdf,
    seal_zip as seal_zip,
)
from receiving.closing.label_drawing import (
    check_letters as check_letters,
)
from receiving.closing.label_printing import (
    label_png as label_png,
    labels_pdf as labels_pdf,
    labels_raster as labels_raster,
)
from receiving.closing.label_printing import (
    drawings_pdf as drawings_pdf,
)
from receiving.closing.label_stock import (
    LINK_HOST as LINK_HOST,
    RESOLUTIONS as RESOLUTIONS,
    STOCKS as STOCKS,
    LabelExtras as LabelExtras,
    LabelPrint as LabelPrint,
    Stock as Stock,
)
from receiving.closing.label_symbols import (
    modules_svg as modules_svg,
    scanner_test_symbols as scanner_test_symbols,
)
from receiving.closing.labels import (
    position_label as position_label,
)
from receiving.closing.plan_print import (
    plan_pdf as plan_pdf,
)
from receiving.closing.label_symbols import (
    qr_svg as qr_svg,
    qr_terminal as qr_terminal,
)
from receiving.closing.recadv import (
    receiving_advice_edifact as receiving_advice_edifact,
)
from receiving.closing.receipt import (
    declaration_words as declaration_words,
    role_words as role_words,
    show_receipt as show_receipt,
)
from receiving.closing.receipt_print import (
    receipt_pdf as receipt_pdf,
)
from receiving.closing.record import (
    Finding as Finding,
    Flaw as Flaw,
    are_pair as are_pair,
    check_alone as check_alone,
    first_difference as first_difference,
    first_seal_difference as first_seal_difference,
    header_of as header_of,
    is_named as is_named,
    make_key as make_key,
    read_record as read_record,
    same_but_for_names as same_but_for_names,
    seal as seal,
    seal_digest as seal_digest,
    write_record as write_record,
)
from receiving.closing.replacement import (
    replacement_csv as replacement_csv,
    replacement_from_json as replacement_from_json,
    replacement_json as replacement_json,
    replacement_manifest as replacement_manifest,
    replacement_request as replacement_request,
    request_changes as request_changes,
)
from receiving.closing.replacement_print import (
    replacement_pdf as replacement_pdf,
)
from receiving.closing.x12_861 import (
    receiving_advice_x12 as receiving_advice_x12,
)
