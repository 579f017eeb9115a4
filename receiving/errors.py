"""Everything that can stop the work, in one tree.

    ReceivingError
    ├── FileFaults            a file is wrong; every fault with line and column; nothing was loaded
    │   ├── ManifestFaults    manifest or advance ship notice
    │   ├── LayoutFaults      store, cart and bays
    │   ├── PatternFaults     label patterns
    │   └── ScanFaults        scan list
    ├── PhotoError            this photo cannot be read; others go on
    │   ├── NotAPhoto         the bytes are not an image that we can open
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

from receiving.messages import Joined, Message, Opening, Text, joined, message, plural

_CORRECT_LINES = message("Correct the lines named and load it again.")
_CORRECT_FILE = message("Correct it, or choose the right file, and load it again.")


def words_of_error(error: Exception) -> Text:
    """What an error of a value says: its message, or its text where it was given none."""
    text = error.args[0] if len(error.args) == 1 else None
    return text if isinstance(text, Message | Joined | Opening) else str(error)


@dataclass(frozen=True)
class Fault:
    """One fault of a file: where (1-based; 0 = the file as a whole), what, and what was expected."""

    line: int
    column: int
    message: Text
    field: str = ""

    @property
    def words(self) -> Text:
        """Where and what, as a line."""
        if not self.line:
            return self.message
        where = message("line {line}", line=self.line)
        if self.column:
            where = message("line {line}, column {column}", line=self.line, column=self.column)
        if self.field:
            return message("{where} ({field}): {fault}", where=where, field=self.field, fault=self.message)
        return message("{where}: {fault}", where=where, fault=self.message)

    def __str__(self) -> str:
        return str(self.words)


@dataclass(frozen=True)
class FieldFault:
    """What is wrong with one of several values; ``which`` tells those of one name apart: a row's number, a heading."""

    field: str
    message: Text
    which: str = ""


class ReceivingError(Exception):
    """The work cannot go on. The message names the fault; ``next_step`` says what to do.

    ``field`` is the name of the one value that it is about, as the use case calls it; empty where it is about several:
    those are in ``fields``, each with what is wrong with it.
    """

    def __init__(
        self, what: Text, *, next_step: Text = "", field: str = "", fields: tuple[FieldFault, ...] = ()
    ) -> None:
        super().__init__(what)
        self.message = what
        self.next_step = next_step
        self.field = field
        self.fields = fields

    @property
    def words(self) -> Joined:
        """The fault, what is wrong with each value, and the next step, for a reader of any language."""
        return joined(self.message, *(each.message for each in self.fields), self.next_step)

    def __str__(self) -> str:
        return str(self.words)


class FileFaults(ReceivingError):
    """A file has faults; all of them are listed, and nothing of the file was loaded."""

    what = message("file")

    def __init__(self, name: str, faults: tuple[Fault, ...], *, next_step: Text = "") -> None:
        self.name = name
        self.faults = faults
        count = plural(len(faults), "{number} fault", "{number} faults")
        super().__init__(
            message("The {kind} {name} has {count}; nothing was loaded.", kind=self.what, name=repr(name), count=count),
            next_step=next_step or (_CORRECT_LINES if any(f.line for f in faults) else _CORRECT_FILE),
        )

    @property
    def lines(self) -> tuple[Text, ...]:
        """The fault of the whole and its next step, then each fault on a line of its own."""
        return (self.words, *(joined("  ", fault.words, separator="") for fault in self.faults))

    def __str__(self) -> str:
        return "\n".join(map(str, self.lines))


class ManifestFaults(FileFaults):
    """A manifest or an advance ship notice cannot be loaded."""

    what = message("manifest")


class LayoutFaults(FileFaults):
    """A layout (store, cart, bays) cannot be loaded."""

    what = message("layout")


class PatternFaults(FileFaults):
    """A label pattern file cannot be loaded."""

    what = message("label pattern file")


class ScanFaults(FileFaults):
    """A scan list cannot be loaded."""

    what = message("scan list")


class PhotoError(ReceivingError):
    """This photo cannot be read; the others are not affected."""


class NotAPhoto(PhotoError):
    """The bytes are not an image that can be opened, or the image is cut off."""


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

    ``where`` is its path: commands say it, pages do not, since it is not their business.
    """

    def __init__(self, what: Text, *, next_step: Text = "", where: str = "") -> None:
        super().__init__(what, next_step=next_step)
        self.where = where

    def __str__(self) -> str:
        """With the path, for a command; `words` say it without."""
        return f"{self.where}: {self.words}" if self.where else str(self.words)


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

    def __init__(self, what: Text, limit: Limit, *, next_step: Text = "") -> None:
        super().__init__(what, next_step=next_step)
        self.limit = limit


class NotYet(ReceivingError):
    """What was asked for is being worked out and will be there in a while."""


class MissingLibrary(ReceivingError):
    """An optional library is not installed; the message says how to get it."""


def is_out_of_memory(fault: BaseException) -> bool:
    """Also what others make of it: OpenCV and Pillow have words of their own, and CPython has for a thread's stack."""
    return isinstance(fault, MemoryError) or any(
        words in str(fault).lower()
        for words in ("insufficient memory", "cannot allocate", "out of memory", "can't start new thread")
    )
