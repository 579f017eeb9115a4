"""How a phone comes to trust the service's own certificate authority."""

from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text, message


@dataclass(frozen=True)
class TrustPage:
    """What to install, what to compare, and where to go on."""

    template: ClassVar[str] = "trust.html"

    fingerprint: tuple[str, ...]
    shipments: str
    qr: str
    here: str
    is_secure: bool
    title: ClassVar[Text] = message("Trust this service")


def trust_page(fingerprint: str, shipments: str, qr: str, *, here: str, is_secure: bool) -> TrustPage:
    """The page; the fingerprint comes in pairs of digits and is shown in groups that a person can compare."""
    pairs = fingerprint.split(":")
    groups = tuple(" ".join(pairs[n : n + 8]) for n in range(0, len(pairs), 8))
    return TrustPage(groups, shipments, qr, here, is_secure)
