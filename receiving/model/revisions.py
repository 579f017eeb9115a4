"""What differs between two revisions of a manifest, as facts."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from receiving.model.expected import Carton

References = tuple[tuple[str, str], ...]


class What(StrEnum):
    """The kind of a change."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"
    STORE = "store"
    VISIT = "visit"
    REFERENCES = "references"


@dataclass(frozen=True)
class ManifestChange:
    """One change between two revisions; ``carton`` is empty where the shipment itself changed.

    ``before`` and ``after`` are the carton, the store, the day of the visit, or the references; None where there was
    or is none.
    """

    carton: str
    what: What
    before: Carton | str | date | References | None
    after: Carton | str | date | References | None
