"""How often the part of a shipment's page is drawn anew while very many phones follow and scan.

A part costs some four milliseconds, and each scan makes the one before outdated: a hundred phones at twenty-five
shipments would have a hundred drawn a second, which leaves no time to answer scans. Beyond `MOST_A_SECOND` a part that
is younger than `HELD_S` is given to whoever follows instead of a newer one. Nobody is shown less than he sees already.
"""

import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from time import monotonic

MOST_A_SECOND = 20
"""Parts drawn a second before any is held back: a tenth of a second of a core."""

HELD_S = 1.0
"""As long as an open page waits between two questions."""

_MOST_VERSIONS = 8
_MOST_SHIPMENTS = 256


class Pace:
    """The versions that were drawn lately, by shipment. Safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._drawn: OrderedDict[str, deque[tuple[str, float]]] = OrderedDict()
        self._lately: deque[float] = deque(maxlen=MOST_A_SECOND)

    def drawn(self, shipment: str, version: str) -> None:
        """Say that this version of a shipment's page was drawn now."""
        now = self._clock()
        with self._lock:
            self._lately.append(now)
            versions = self._drawn.setdefault(shipment, deque(maxlen=_MOST_VERSIONS))
            if not versions or versions[-1][0] != version:
                versions.append((version, now))
            self._drawn.move_to_end(shipment)
            while len(self._drawn) > _MOST_SHIPMENTS:
                self._drawn.popitem(last=False)

    def version(self, shipment: str, newest: str, seen: str) -> str:
        """The version to show to a reader who sees version ``seen``: the newest, or while very many are drawn the last.

        A reader of a version that nobody knows of gets the newest.
        """
        now = self._clock()
        with self._lock:
            versions = self._drawn.get(shipment)
            busy = len(self._lately) == MOST_A_SECOND and now - self._lately[0] < HELD_S
            if not busy or not versions or now - versions[-1][1] >= HELD_S:
                return newest
            return versions[-1][0] if seen in (version for version, _ in versions) else newest
