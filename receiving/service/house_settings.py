"""Settings of the house: units on pages and papers, the sender on labels, the printer, the host of printed links."""

import json
import re
from dataclasses import asdict, dataclass, replace

from receiving.closing import LabelExtras, LabelPrint, check_letters
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import Units
from receiving.service.context import Context
from receiving.store import DocumentKind, Store

LINK_HOST = "https://id.gs1.org"
_HOST = re.compile(r"https?://[A-Za-z0-9.-]{1,253}(?::[0-9]{1,5})?(?:/[A-Za-z0-9._~/-]{0,100})?")
LEAST_PHOTO_DAYS, MOST_PHOTO_DAYS = 30, 36_500
"""A visit, its receipt and the claims that follow are not over sooner: assumed, common practice, no source."""
_MOST_LINES, _LONGEST_LINE = 3, 60


@dataclass(frozen=True)
class Settings:
    """What is set. ``sender`` are the lines of the sender on labels, ``dpi`` and ``offset_mm`` those of the printer.

    Photos go after ``photo_days`` in which nothing happened to their shipments; None keeps them.
    """

    units: Units = Units.METRIC
    sender: tuple[str, ...] = ()
    link_host: str = LINK_HOST
    dpi: int = 300
    offset_mm: tuple[float, float] = (0.0, 0.0)
    photo_days: int | None = None


def get_settings(ctx: Context) -> Settings:
    """The settings in use."""
    with ctx.store() as store:
        return settings_of(store)


def settings_of(store: Store) -> Settings:
    """The settings in use; those of the house where nobody has set any."""
    document = store.document(DocumentKind.SETTINGS)
    if document is None:
        return Settings()
    kept = json.loads(document.body)
    right, down = kept["offset_mm"]
    return Settings(
        Units(kept["units"]),
        tuple(kept["sender"]),
        kept["link_host"],
        kept["dpi"],
        (right, down),
        kept.get("photo_days"),
    )


def save_settings(ctx: Context, new: Settings) -> Settings:
    """Use these settings from now on. Raises BadRequest."""
    sender = tuple(line for line in (" ".join(line.split()) for line in new.sender) if line)
    if len(sender) > _MOST_LINES or any(len(line) > _LONGEST_LINE for line in sender):
        step = message("Use at most {lines} lines of {limit} characters.", lines=_MOST_LINES, limit=_LONGEST_LINE)
        raise BadRequest(message("The sender is too long for a label."), next_step=step, field="sender")
    for line in sender:
        _refuse_unprintable(line)
    host = new.link_host.strip().rstrip("/") or LINK_HOST
    if not _HOST.fullmatch(host):
        step = message("Write it like https://receiving.example.com, as a phone in the store reaches this service.")
        raise BadRequest(
            message("{host} is not the start of a web address.", host=repr(host[:80])),
            next_step=step,
            field="link_host",
        )
    if new.photo_days is not None and not LEAST_PHOTO_DAYS <= new.photo_days <= MOST_PHOTO_DAYS:
        step = message(
            "Give {least} to {most} days, or nothing to keep them.", least=LEAST_PHOTO_DAYS, most=MOST_PHOTO_DAYS
        )
        raise BadRequest(
            message("Photos cannot go after {days} days.", days=new.photo_days),
            next_step=step,
            field="photo_days",
        )
    kept = replace(new, sender=sender, link_host=host)
    label_print(kept, "4x6in")  # a resolution or offset that no label can have is refused here
    with ctx.transaction() as store:
        body = json.dumps(asdict(kept), ensure_ascii=False)
        store.add_document(DocumentKind.SETTINGS, "", body, file_name="settings", added_at=ctx.now())
    return kept


def _refuse_unprintable(line: str) -> None:
    """A sender that no label can print is refused here, before each label would be."""
    try:
        check_letters(line)
    except BadRequest as fault:
        raise BadRequest(fault.message, next_step=fault.next_step, field="sender") from None


def label_print(kept: Settings, stock: str, dpi: int | None = None, *, speaker: Speaker = ENGLISH) -> LabelPrint:
    """How labels are printed on this stock; ``dpi`` where another printer than the usual one is meant."""
    extras = LabelExtras(kept.sender, pounds=kept.units is Units.US, link_host=kept.link_host)
    return LabelPrint(stock, dpi or kept.dpi, kept.offset_mm, extras, speaker)
