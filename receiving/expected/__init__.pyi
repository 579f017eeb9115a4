from receiving.expected.results import (
    manifest_changes as manifest_changes,
)
from receiving.expected.file_formats import (
    is_ship_notice as is_ship_notice,
    read_manifests as read_manifests,
    read_table_sample as read_table_sample,
    stream_manifests as stream_manifests,
)
from receiving.expected.programme_tables import (
    Kit as Kit,
    KitPlace as KitPlace,
    read_kit as read_kit,
    write_kit_csv as write_kit_csv,
)
from receiving.expected.layout import (
    read_layout as read_layout,
    write_layout_toml as write_layout_toml,
)
from receiving.expected.manifest_table import (
    MANIFEST_COLUMNS as MANIFEST_COLUMNS,
    write_manifest_csv as write_manifest_csv,
)
from receiving.expected.table import (
    ColumnMapping as ColumnMapping,
    DateForm as DateForm,
    DecimalSign as DecimalSign,
    TableSample as TableSample,
    column_name as column_name,
    choose_mapping as choose_mapping,
)
from receiving.expected.results import (
    ManifestFile as ManifestFile,
    ManifestStream as ManifestStream,
    NotUnderstood as NotUnderstood,
    Progress as Progress,
    SegmentFault as SegmentFault,
    SourceFormat as SourceFormat,
    Unused as Unused,
)
from receiving.expected.programme_tables import (
    read_stores as read_stores,
    write_stores_csv as write_stores_csv,
)
