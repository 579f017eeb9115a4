"""sqlite-utils without pandas, which it takes along where that is installed: 0.3 s and 36 MB for nothing."""

import sys

_is_loaded = "pandas" in sys.modules
if not _is_loaded:
    sys.modules["pandas"] = None  # type: ignore[assignment]  # which is how a module is said to be missing
try:
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations
finally:
    if not _is_loaded:
        del sys.modules["pandas"]

__all__ = ["Database", "Migrations"]
