"""The use cases: one function for each thing that a person does."""

from receiving.dispatch import DispatchRow, ShipmentRow, Urgency
from receiving.service.confirming import confirm, receipt, receipt_pdf, show_receipt
from receiving.service.desk import Desk, PhotoReader
from receiving.service.intake import (
    FilePreview,
    ImportPreview,
    ImportResult,
    import_manifest,
    preview_import,
    restore_revision,
)
from receiving.service.masterdata import (
    PatternText,
    import_kit,
    import_layout,
    import_patterns,
    kit_text,
    layout_text,
    manifest_csv,
    patterns_text,
    try_patterns,
)
from receiving.service.noting import add_note
from receiving.service.printing import label_png, labels_pdf
from receiving.service.seeing import (
    PhotoRow,
    PhotoView,
    ScanAnswer,
    add_photo,
    add_scan,
    add_scans,
    finish_photos,
    photo,
    photo_jpeg,
    resume_photos,
)
from receiving.service.viewing import ShipmentView, overview, overview_csv, shipment, shipments, version
from receiving.store import PhotoStatus

__all__ = [
    "Desk",
    "DispatchRow",
    "FilePreview",
    "ImportPreview",
    "ImportResult",
    "PatternText",
    "PhotoReader",
    "PhotoRow",
    "PhotoStatus",
    "PhotoView",
    "ScanAnswer",
    "ShipmentRow",
    "ShipmentView",
    "Urgency",
    "add_note",
    "add_photo",
    "add_scan",
    "add_scans",
    "confirm",
    "finish_photos",
    "import_kit",
    "import_layout",
    "import_manifest",
    "import_patterns",
    "kit_text",
    "label_png",
    "labels_pdf",
    "layout_text",
    "manifest_csv",
    "overview",
    "overview_csv",
    "patterns_text",
    "photo",
    "photo_jpeg",
    "preview_import",
    "receipt",
    "receipt_pdf",
    "restore_revision",
    "resume_photos",
    "shipment",
    "shipments",
    "show_receipt",
    "try_patterns",
    "version",
]
