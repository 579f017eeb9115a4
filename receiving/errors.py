"""Everything that can stop the work, in one tree.

    ReceivingError
    ├── FileFaults            a file is wrong; every fault with line and column; nothing was loaded
    │   ├── ManifestFaults    manifest or advance ship notice
    │   ├── LayoutFaults      store, cart and bays
    │   ├── PatternFaults     label patterns
    │   └── ScanFaults        scan list
    ├── PhotoError            this photo cannot be read; others go on
    │   ├── NotAPhoto         the bytes are no image that we can open
    │   ├── PhotoTooLarge     more bytes or pixels than the limit
    │   └── PhotoReaderFailed a decoder crashed or ran over its time
    ├── NotFound              no such shipment, photo, carton, receipt
    ├── Conflict              what was shown has changed since, or the step was already taken
    ├── BadRequest            a value typed or sent cannot be used
    ├── StoreError            the data folder or the database cannot be used
    │   └── NoData            there is no data of this service in the folder
    ├── WorkStopped           work in a process of its own ran into a limit, crashed, or was cancelled
    └── MissingLibrary        an optional library is not installed

Short, over, duplicate and unreadable are results, not errors.
"""

from dataclasses import dataclass
from enum import StrEnum

_CORRECT_LINES = "Correct the lines named and load it again."
_CORRECT_FILE = "Correct it, or choose the right file, and load it again."


@dataclass(frozen=True)
class Fault:
    """One fault of a file: where (1-based; 0 = the file as a whole), what, and what was expected."""

    line: int
    column: int
    message: str
    field: str = ""

    def __str__(self) -> str:
        if not self.line:
            return self.message
        where = f"line {self.line}" + (f", column {self.column}" if self.column else "")
        return f"{where}{f' ({self.field})' if self.field else ''}: {self.message}"


class ReceivingError(Exception):
    """The work cannot go on. The message names the fault; ``next_step`` says what to do.

    ``field`` is the name of the one value that it is about, as the use case calls it; empty where it is about several.
    """

    def __init__(self, message: str, *, next_step: str = "", field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.next_step = next_step
        self.field = field

    def __str__(self) -> str:
        return f"{self.message} {self.next_step}".strip()


class FileFaults(ReceivingError):
    """A file has faults; all of them are listed, and nothing of the file was loaded."""

    what = "file"

    def __init__(self, name: str, faults: tuple[Fault, ...], *, next_step: str = "") -> None:
        self.name = name
        self.faults = faults
        count = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
        super().__init__(
            f"The {self.what} {name!r} has {count}; nothing was loaded.",
            next_step=next_step or (_CORRECT_LINES if any(f.line for f in faults) else _CORRECT_FILE),
        )

    def __str__(self) -> str:
        return "\n".join([super().__str__(), *(f"  {fault}" for fault in self.faults)])


class ManifestFaults(FileFaults):
    """A manifest or an advance ship notice cannot be loaded."""

    what = "manifest"


class LayoutFaults(FileFaults):
    """A layout (store, cart, bays) cannot be loaded."""

    what = "layout"


class PatternFaults(FileFaults):
    """A label pattern file cannot be loaded."""

    what = "label pattern file"


class ScanFaults(FileFaults):
    """A scan list cannot be loaded."""

    what = "scan list"


class PhotoError(ReceivingError):
    """This photo cannot be read; the others are not affected."""


class NotAPhoto(PhotoError):
    """The bytes are no image that can be opened, or the image is cut off."""


class PhotoTooLarge(PhotoError):
    """The photo has more bytes or pixels than the limit."""


class PhotoReaderFailed(PhotoError):
    """A decoder crashed or ran over its time on this photo."""


class NotFound(ReceivingError):
    """There is no such shipment, photo, carton or receipt."""


class Conflict(ReceivingError):
    """What was shown has changed since, or the step was already taken."""


class BadRequest(ReceivingError):
    """A value that was typed or sent cannot be used."""


class StoreError(ReceivingError):
    """The data folder or the database in it cannot be used.

    ``where`` is its path: commands say it, pages do not, since it is no business of theirs.
    """

    def __init__(self, message: str, *, next_step: str = "", where: str = "") -> None:
        super().__init__(message, next_step=next_step)
        self.where = where

    def __str__(self) -> str:
        said = super().__str__()
        return f"{self.where}: {said}" if self.where else said


class NoData(StoreError):
    """There is no data of this service in the folder."""


class Limit(StrEnum):
    """By what work in a process of its own was stopped."""

    TIME = "time"
    MEMORY = "memory"
    FILES = "files"
    CRASHED = "crashed"
    FAILED = "failed"
    CANCELLED = "cancelled"
    BUSY = "busy"
    CLOSED = "closed"


class WorkStopped(ReceivingError):
    """Work in a process of its own came to no end; ``limit`` says by what."""

    def __init__(self, message: str, limit: Limit, *, next_step: str = "") -> None:
        super().__init__(message, next_step=next_step)
        self.limit = limit


class NotYet(ReceivingError):
    """What was asked for is being worked out and will be there in a while."""


class MissingLibrary(ReceivingError):
    """An optional library is not installed; the message says how to get it."""
