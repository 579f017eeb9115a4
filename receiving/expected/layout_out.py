"""`Layout` -> TOML as the layout contract has it; reading it back gives an equal layout."""

import json
from decimal import Decimal

from receiving.model import Bay, Layout


def write_layout_toml(layout: Layout) -> str:
    """The text of a layout file: store, cart, then the bays as they stand in the layout."""
    cart = layout.cart
    lines = [
        "[store]",
        f"id = {_text(layout.store)}",
        f"walk_m = {_number(layout.walk_m)}            # back room to section, one way",
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
        f"order = {bay.order}   # 1 is set first",
    ]


def _text(value: str) -> str:
    """A basic string; JSON's escapes are TOML's too, but for surrogate pairs, which are written as they are."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _number(value: float) -> str:
    return f"{int(value)}" if value == int(value) else format(Decimal(repr(value)), "f")
