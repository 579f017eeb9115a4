"""What a phone did and what still waits on it: a frame that the phone fills, since only it knows."""

from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text, message


@dataclass(frozen=True)
class OutboxPage:
    """The list of this phone's actions."""

    template: ClassVar[str] = "outbox.html"

    title: ClassVar[Text] = message("On this phone")


@dataclass(frozen=True)
class NoSignalPage:
    """A page that a phone does not hold, while there is no signal."""

    template: ClassVar[str] = "no_signal.html"

    title: ClassVar[Text] = message("No signal")
