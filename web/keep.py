"""A small, bounded memory: what a person was shown, until they answer."""

import threading
from collections import OrderedDict
from typing import Generic, TypeVar

T = TypeVar("T")


class Keep(Generic[T]):
    """Keeps the newest ``entries`` values by key; safe to use from several threads.

    >>> keep = Keep(entries=2)
    >>> for key in "abc": keep.put(key, key.upper())
    >>> keep.get("a"), keep.get("c")
    (None, 'C')
    """

    def __init__(self, *, entries: int) -> None:
        self._entries = entries
        self._values: OrderedDict[str, T] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, key: str, value: T) -> None:
        """Keep a value; the oldest goes when there are too many."""
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._entries:
                self._values.popitem(last=False)

    def get(self, key: str) -> T | None:
        """The value, or None when it was not kept or is gone."""
        with self._lock:
            return self._values.get(key)
