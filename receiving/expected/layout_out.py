"""`Layout` -> TOML as the layout contract has it; reading it back gives an equal layout."""

import json
from decimal import Decimal

from receiving.model import Bay, Layout

_AISLES_NOT_STATED = (
    "# No aisle is measured yet: add aisle_width_cm to each [[bay]], and here keep_clear_cm, the width to stay free."
)


def write_layout_toml(layout: Layout) -> str:
    """The text of a layout file: store, cart, then the bays as they stand in the layout."""
    cart = layout.cart
    lines = [
        "[store]",
        f"id = {_text(layout.store)}",
        f"walk_m = {_number(layout.walk_m)}            # back room to section, one way",
        *_given("keep_clear_cm", layout.keep_clear_cm, "width of every aisle that must stay free"),
        *_store_calendar(layout),
        *([] if any(bay.aisle_width_cm for bay in layout.bays) else [_AISLES_NOT_STATED]),
        "",
        "[cart]",
        *(f"{key} = {_number(getattr(cart, key))}" for key in cart.__dataclass_fields__),
    ]
    for bay in layout.bays:
        lines += ["", "[[bay]]", *_bay(bay)]
    return "\n".join(lines) + "\n"


def _bay(bay: Bay) -> list[str]:
    return [
        f"id = {_text(bay.bay)}",
        f"section = {_text(bay.section)}",
        f"columns = [{', '.join(map(str, bay.columns))}]",
        f"width_cm = {_number(bay.width_cm)}",
        f"staging_length_cm = {_number(bay.staging_length_cm)}   # floor kept for cartons in front of the bay",
        f"staging_depth_cm = {_number(bay.staging_depth_cm)}",
        *_given("aisle_width_cm", bay.aisle_width_cm, "from the fixture to what faces it"),
        *_given("keep_clear_cm", bay.keep_clear_cm, "width of this aisle that must stay free"),
        f"order = {bay.order}   # 1 is set first",
    ]


def _store_calendar(layout: Layout) -> list[str]:
    """The keys that say when the store works and how long an order takes; none where the layout does not say."""
    cut_off = layout.order_cut_off.isoformat("minutes") if layout.order_cut_off else ""
    texts = {"name": layout.name, "time_zone": layout.time_zone, "country": layout.country, "region": layout.region}
    lines = [f"{key} = {_text(value)}" for key, value in texts.items() if value]
    lines += [f"lead_days = {layout.lead_days}   # working days from an order to its arrival"] * bool(layout.lead_days)
    return lines + [f'order_cut_off = "{cut_off}"   # a later order counts from the next working day'] * bool(cut_off)


def _given(key: str, value: float | None, meaning: str) -> list[str]:
    return [] if value is None else [f"{key} = {_number(value)}   # {meaning}"]


def _text(value: str) -> str:
    """A basic string; JSON's escapes are TOML's too, but for surrogate pairs, which are written as they are."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _number(value: float) -> str:
    return f"{int(value)}" if value == int(value) else format(Decimal(repr(value)), "f")
