"""What should arrive: a manifest or an advance ship notice becomes `Manifest`, a layout file becomes `Layout`.

The room's names are handed on when they are first used, so that importing the room costs nothing.
"""

from typing import TYPE_CHECKING

from receiving.doors import hand_on

if TYPE_CHECKING:
    from receiving.expected.changes import ManifestChange, What, manifest_changes
    from receiving.expected.door import read_manifests, stream_manifests
    from receiving.expected.kit import Kit, KitPlace, read_kit, write_kit_csv
    from receiving.expected.layout import read_layout
    from receiving.expected.layout_out import write_layout_toml
    from receiving.expected.manifest_out import write_manifest_csv
    from receiving.expected.results import ManifestFile, NotUnderstood, Progress, SegmentFault, SourceFormat
    from receiving.expected.stream import ManifestStream

_HOMES = {
    "changes": ("ManifestChange", "What", "manifest_changes"),
    "door": ("read_manifests", "stream_manifests"),
    "kit": ("Kit", "KitPlace", "read_kit", "write_kit_csv"),
    "layout": ("read_layout",),
    "layout_out": ("write_layout_toml",),
    "manifest_out": ("write_manifest_csv",),
    "results": ("ManifestFile", "NotUnderstood", "Progress", "SegmentFault", "SourceFormat"),
    "stream": ("ManifestStream",),
}

__all__ = [
    "Kit",
    "KitPlace",
    "ManifestChange",
    "ManifestFile",
    "ManifestStream",
    "NotUnderstood",
    "Progress",
    "SegmentFault",
    "SourceFormat",
    "What",
    "manifest_changes",
    "read_kit",
    "read_layout",
    "read_manifests",
    "stream_manifests",
    "write_kit_csv",
    "write_layout_toml",
    "write_manifest_csv",
]

__getattr__ = hand_on(__name__, _HOMES)
