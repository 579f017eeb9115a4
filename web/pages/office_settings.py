"""Settings of the house: units, the sender and printer of labels, the address in their QR codes."""

from dataclasses import dataclass, replace
from typing import ClassVar

from receiving.errors import BadRequest, ReceivingError
from receiving.messages import Text, message
from receiving.service import Settings, Units
from web.pages.cartons import Option
from web.pages.problem import Trouble, trouble_of

UNIT_WORDS = {Units.METRIC: message("metric: kg, cm, m"), Units.US: message("US: lb, in, ft")}


@dataclass(frozen=True)
class SettingsPage:
    """The settings to change."""

    template: ClassVar[str] = "office_settings.html"
    title: ClassVar[Text] = message("Settings")

    units: tuple[Option, ...]
    sender: str
    link_host: str
    printers: tuple[Option, ...]
    right_mm: str
    down_mm: str
    photo_days: str
    trouble: Trouble | None
    done: bool


def settings_page(
    kept: Settings, resolutions: tuple[int, ...], *, fault: ReceivingError | None = None, done: bool = False
) -> SettingsPage:
    """The page with what is set, or what was sent and could not be taken."""
    return SettingsPage(
        tuple(Option(unit.value, words, unit is kept.units) for unit, words in UNIT_WORDS.items()),
        "\n".join(kept.sender),
        kept.link_host,
        tuple(Option(str(dpi), message("{number} dots per inch", number=dpi), dpi == kept.dpi) for dpi in resolutions),
        f"{kept.offset_mm[0]:g}",
        f"{kept.offset_mm[1]:g}",
        str(kept.photo_days or ""),
        trouble_of(fault),
        done,
    )


def settings_sent(form: dict[str, str]) -> Settings:
    """The settings as the page sent them. Raises BadRequest."""
    dpi = form.get("dpi", "")
    return Settings(
        Units.US if form.get("units") == Units.US.value else Units.METRIC,
        tuple(form.get("sender", "").splitlines()),
        form.get("link_host", ""),
        int(dpi) if dpi.isascii() and dpi.isdigit() and len(dpi) < 6 else 0,
        (_mm(form, "right_mm"), _mm(form, "down_mm")),
        _days(form.get("photo_days", "").strip()),
    )


def _days(text: str) -> int | None:
    if text and not (text.isascii() and text.isdigit() and len(text) < 6):
        step = message("Write it like 365, or leave it empty.")
        raise BadRequest(
            message("{text} is not a number of days.", text=repr(text[:20])), next_step=step, field="photo_days"
        )
    return int(text) if text else None


def _mm(form: dict[str, str], name: str) -> float:
    text = form.get(name, "")
    try:
        return float(text.strip().replace(",", ".") or 0)
    except ValueError:
        step = message("Write it like 1.5.")
        raise BadRequest(
            message("{text} is not a number of millimetres.", text=repr(text[:20])), next_step=step, field=name
        ) from None


def as_typed(page: SettingsPage, form: dict[str, str]) -> SettingsPage:
    """The page with what was typed into it: it comes back with a fault."""
    return replace(
        page,
        sender=form.get("sender", page.sender),
        right_mm=form.get("right_mm", page.right_mm),
        down_mm=form.get("down_mm", page.down_mm),
        link_host=form.get("link_host", page.link_host),
        photo_days=form.get("photo_days", page.photo_days),
    )
