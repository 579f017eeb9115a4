"""What should arrive: a manifest or an advance ship notice becomes `Manifest`, a layout file becomes `Layout`.

The problem: shippers send tables (CSV, XLSX) with headings of their own and ship notices (ASC X12 856, EDIFACT DESADV);
each carton, number, weight and quantity must end on a manifest or be named as left out. Tables are read
row by row, each cell with its line and heading; notices are split into segments and put together as levels of packages
(HL loops, CPS groups), which both formats give as one `Notice`. Both ways end in the same checks of a shipment.

What holds always: a file is taken whole or not at all, with every fault listed; each element of a notice is used or
listed by segment and qualifier with its count; a number keeps its leading zeros; units stand in the heading.
The public names are imported when first used, so that importing the room costs nothing.
"""

from typing import TYPE_CHECKING

from receiving.reexport import reexport

if TYPE_CHECKING:
    from receiving.expected.changes import manifest_changes
    from receiving.expected.file_formats import is_ship_notice, read_manifests, read_table_sample, stream_manifests
    from receiving.expected.kit import Kit, KitPlace, read_kit, write_kit_csv
    from receiving.expected.layout import read_layout, write_layout_toml
    from receiving.expected.manifest_table import MANIFEST_COLUMNS, write_manifest_csv
    from receiving.expected.mapping import ColumnMapping, DateForm, DecimalSign, TableSample, column_name, mapped
    from receiving.expected.results import (
        ManifestFile,
        ManifestStream,
        NotUnderstood,
        Progress,
        SegmentFault,
        SourceFormat,
        Unused,
    )
    from receiving.expected.stores import read_stores, write_stores_csv

_HOMES = {
    "changes": ("manifest_changes",),
    "file_formats": ("is_ship_notice", "read_manifests", "stream_manifests", "read_table_sample"),
    "kit": ("Kit", "KitPlace", "read_kit", "write_kit_csv"),
    "layout": ("read_layout", "write_layout_toml"),
    "manifest_table": ("MANIFEST_COLUMNS", "write_manifest_csv"),
    "mapping": ("ColumnMapping", "DateForm", "DecimalSign", "TableSample", "column_name", "mapped"),
    "results": (
        "ManifestFile",
        "NotUnderstood",
        "Progress",
        "SegmentFault",
        "SourceFormat",
        "Unused",
        "ManifestStream",
    ),
    "stores": ("read_stores", "write_stores_csv"),
}

__all__ = [
    "MANIFEST_COLUMNS",
    "ColumnMapping",
    "DateForm",
    "DecimalSign",
    "Kit",
    "KitPlace",
    "ManifestFile",
    "ManifestStream",
    "NotUnderstood",
    "Progress",
    "SegmentFault",
    "SourceFormat",
    "TableSample",
    "Unused",
    "column_name",
    "is_ship_notice",
    "manifest_changes",
    "mapped",
    "read_kit",
    "read_layout",
    "read_manifests",
    "read_stores",
    "read_table_sample",
    "stream_manifests",
    "write_kit_csv",
    "write_layout_toml",
    "write_manifest_csv",
    "write_stores_csv",
]

__getattr__ = reexport(__name__, _HOMES)
