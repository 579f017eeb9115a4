"""How much one session, program or address may ask for in a minute: nobody takes the time or the data of all others.

OWASP ASVS 5.0, V2.4.1. Each has a bucket of what is left, which fills by itself (a token bucket, as in RFC 2697): what
people and their phones do never empties it, a script that walks through all addresses does, and is told when to come
again. Without accounts there is one user, on this machine, who has no limit.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from math import ceil

from receiving.errors import ReceivingError
from receiving.messages import message, plural

A_MINUTE = 1_200
"""Of a session, a program's token, or an address from which nobody signed in. A phone asks once a second."""

COSTLY = 20
"""A paper, a file of many rows, a file that is read: of these sixty a minute."""

COSTLY_ENDPOINTS = frozenset(
    {
        "api.add_notice",
        "coordinator.overview_csv",
        "coordinator.overview_xlsx",
        "imports.preview",
        "imports.preview_again",
        "imports.stores_file",
        "manager.receipt_archive",
        "manager.receipt_file",
        "office_shipment.labels_file",
        "office_shipment.manifest_file",
        "office_shipment.result_file",
        "office_shipment.stickers_file",
        "people.audit_file",
        "programme.call_list_file",
        "programme.programme_file",
        "programme.readiness_file",
        "rep.bay_sheets_file",
        "rep.photo_print",
        "replacement.issued_file",
        "plan.plan_file",
    }
)

MOST_KNOWN = 10_000
"""Of this many it is known what is left; whoever asked least lately is forgotten first."""


class TooManyCalls(ReceivingError):
    """Somebody asks for more than a person can; ``wait_s`` says when he may again."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(
            message("Too much was asked for in too short a time."),
            next_step=plural(wait_s, "Wait {number} second, then try again.", "Wait {number} seconds, then try again."),
        )
        self.wait_s = wait_s


@dataclass
class _Bucket:
    left: float
    at_s: float


class Quota:
    """What each may still ask for. Safe to use from several threads."""

    def __init__(self, a_minute: int = A_MINUTE, clock: Callable[[], float] = time.monotonic) -> None:
        self._most, self._clock = a_minute, clock
        self._lock = threading.Lock()
        self._buckets: OrderedDict[str, _Bucket] = OrderedDict()

    def take(self, who: str, endpoint: str) -> None:
        """Count one request to this endpoint. Raises TooManyCalls, which counts nothing."""
        cost = COSTLY if endpoint in COSTLY_ENDPOINTS else 1
        now = self._clock()
        with self._lock:
            bucket = self._buckets.setdefault(who, _Bucket(self._most, now))
            self._buckets.move_to_end(who)
            while len(self._buckets) > MOST_KNOWN:
                self._buckets.popitem(last=False)
            bucket.left = min(self._most, bucket.left + (now - bucket.at_s) * self._most / 60)
            bucket.at_s = now
            if bucket.left < cost:
                raise TooManyCalls(ceil((cost - bucket.left) * 60 / self._most))
            bucket.left -= cost
