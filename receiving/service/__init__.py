"""The use cases: one function for each thing that a person does."""

from receiving.dispatch import DispatchRow, ShipmentRow, Urgency
from receiving.service.confirming import confirm, receipt, receipt_pdf, show_receipt
from receiving.service.desk import Desk, PhotoReader
from receiving.service.intake import (
    FilePreview,
    ImportPreview,
    ImportResult,
    import_layout,
    import_manifest,
    import_patterns,
    preview_import,
    restore_revision,
)
from receiving.service.noting import add_note
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
    "import_layout",
    "import_manifest",
    "import_patterns",
    "overview",
    "overview_csv",
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
    "version",
]
