"""What was worked out lately, kept until something newer is stored or room is needed."""

import threading
from collections import OrderedDict
from collections.abc import Hashable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

V = TypeVar("V")

LOCKS = 64


class Cache(Generic[V]):
    """At most ``most`` values by name, each good for one version; the one not asked for longest goes first.

    Safe to use from several threads.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, tuple[str, V]] = OrderedDict()
        self._lock = threading.Lock()
        # Two names may share one, which costs waiting and no more; a thread that holds one may take it again.
        self._locks = tuple(threading.RLock() for _ in range(LOCKS))

    def get(self, name: Hashable, version: str) -> V | None:
        """The value of this name, unless it is of another version or went."""
        with self._lock:
            kept = self._kept.get(name)
            if kept is None or kept[0] != version:
                return None
            self._kept.move_to_end(name)
            return kept[1]

    def last(self, name: Hashable) -> V | None:
        """The value of this name that was kept last, of whatever version."""
        with self._lock:
            kept = self._kept.get(name)
            return kept[1] if kept else None

    @contextmanager
    def alone(self, name: Hashable) -> Iterator[None]:
        """One thread at a time for this name, so that what many ask for at once is worked out once."""
        with self._lock:
            lock = self._locks[hash(name) % len(self._locks)]
        with lock:
            yield

    def put(self, name: Hashable, version: str, value: V) -> None:
        """Keep this value, in place of an older one of the same name."""
        with self._lock:
            self._kept[name] = (version, value)
            self._kept.move_to_end(name)
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)

    def clear(self) -> None:
        """Keep nothing of what is kept now."""
        with self._lock:
            self._kept.clear()

    def __len__(self) -> int:
        return len(self._kept)
