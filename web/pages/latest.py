"""What a page says again after each scan of nearly every carton: made once, and held while it is the same."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import fields
from typing import Any, Generic, TypeVar

V = TypeVar("V")


class Latest(Generic[V]):
    """The value that was made last for each of at most ``most`` things. Safe to use from several threads.

    A thing is the same only as the very same object, which is cheaper to tell than equal fields, and is true of a
    shipment's cartons from one scan to the next.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[int, tuple[object, object, V]] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, thing: object, follows_from: object, make: Callable[[], V]) -> V:
        """The value for this thing: the last one where it was made from the same, else made now."""
        kept = self._kept.get(id(thing))
        if kept is not None and kept[0] is thing and kept[1] == follows_from:
            return kept[2]
        value = make()
        with self._lock:
            self._kept[id(thing)] = (thing, follows_from, value)
            self._kept.move_to_end(id(thing))
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return value


def hash_once(value: Any) -> int:
    """The hash of a frozen dataclass, worked out once for each value: to be its ``__hash__``.

    Not for values that leave the process: the hash of a text is another one there.
    """
    known: int | None = value.__dict__.get("_hash")
    if known is None:
        known = hash(tuple(getattr(value, each.name) for each in fields(value)))
        object.__setattr__(value, "_hash", known)
    return known
