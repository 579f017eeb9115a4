"""Messages out by a folder: each receipt's standard messages are written there once, for another program to take.

A file is whole or not there, and one that was taken is not written again; what one cannot carry is said each time.
"""

from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from receiving.closing import check_names_base
from receiving.errors import BadRequest, ReceivingError
from receiving.messages import Text, message
from receiving.service.context import Context
from receiving.service.records import MESSAGES, make_standard_message
from receiving.store.folder import write_whole

EVERY_S = 5.0
ENCODINGS = {"edi": "latin-1"}
"""The character set of a message where it is not UTF-8 (UNOC of EDIFACT is ISO 8859-1)."""


@dataclass(frozen=True)
class MessageFolder:
    """Where messages go, in which kinds of `MESSAGES`, and as whose; ``base`` is where EPCIS names stand."""

    folder: Path
    kinds: tuple[str, ...] = tuple(MESSAGES)
    sender: str = ""
    receiver: str = ""
    base: str = ""


@dataclass(frozen=True)
class Written:
    """The files that were written now, and the faults of what could not be."""

    files: tuple[Path, ...]
    faults: tuple[Text, ...]


def write_messages(ctx: Context, to: MessageFolder, *, again: bool = False) -> Written:
    """Write the messages that were not written yet, or all ``again``. Raises BadRequest for a folder, kind or base."""
    unknown = [kind for kind in to.kinds if kind not in MESSAGES]
    if unknown or not to.kinds:
        raise BadRequest(
            message("There is no message {kind}.", kind=repr("".join(unknown[:1]))),
            next_step=message("Choose among {kinds}.", kinds=", ".join(MESSAGES)),
        )
    if "jsonld" in to.kinds and not to.base:
        raise BadRequest(
            message("EPCIS names things by addresses."),
            next_step=message("Give this service's own with --base ADDRESS."),
        )
    if "jsonld" in to.kinds:
        check_names_base(to.base)
    if not to.folder.is_dir():
        raise BadRequest(
            message("{folder} is not a folder.", folder=to.folder),
            next_step=message("Make it first, where the other program looks."),
        )
    files, faults = [], []
    with ctx.store() as store:
        due = store.unwritten_messages(to.kinds, again=again)
    for shipment, number, kind in due:
        try:
            text = make_standard_message(
                ctx, shipment, number, kind, sender=to.sender, receiver=to.receiver, base=to.base
            )
            target = to.folder / f"receipt-{quote(shipment, safe='')}-{number}.{kind}"
            _write(target, text.encode(ENCODINGS.get(kind, "utf-8")))
        except (ReceivingError, UnicodeEncodeError) as fault:
            faults.append(
                message(
                    "Receipt {number} of shipment {shipment} as {kind}: {fault}",
                    number=number,
                    shipment=shipment,
                    kind=MESSAGES[kind],
                    fault=fault,
                )
            )
            continue
        with ctx.transaction() as store:
            store.add_written_message(shipment, number, kind, ctx.now())
        files.append(target)
    return Written(tuple(files), tuple(faults))


def keep_writing(ctx: Context, to: MessageFolder) -> None:
    """Write what is new from now on, in a thread of its own, until the context closes. Raises as `write_messages`."""
    write_messages(ctx, to)

    def work() -> float:
        write_messages(ctx, to)
        return EVERY_S

    ctx.repeat(work, name="message folder")


def _write(target: Path, data: bytes) -> None:
    try:
        write_whole(target, data)
    except OSError as fault:
        raise BadRequest(
            message("{file} could not be written: {fault}.", file=target, fault=fault.strerror or fault),
            next_step=message("Free some space, or correct the folder's permissions."),
        ) from fault
