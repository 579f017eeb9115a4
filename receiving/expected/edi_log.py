"""What was noticed while an EDI file was read: warnings and parts not understood, with segment numbers."""

from collections import Counter
from dataclasses import dataclass, field

from receiving.errors import Fault
from receiving.expected.results import NotUnderstood, SegmentFault

MOST_OF_A_KIND = 100
"""Warnings of one kind that are kept in full; a file of 100,000 cartons may repeat one a hundred thousand times."""

_LONGEST_QUOTE = 200


@dataclass
class EdiLog:
    """Collects warnings; beyond `MOST_OF_A_KIND` of one kind they are counted, and the count is said.

    ``counted_out``: cartons that the file did not name one by one so far.
    """

    name: str
    warnings: list[Fault] = field(default_factory=list)
    not_understood: list[NotUnderstood] = field(default_factory=list)
    counted_out: int = 0
    _kinds: Counter[str] = field(default_factory=Counter)

    def warn(self, segment: int, tag: str, message: str, kind: str = "", element: int = 0) -> None:
        """Add a warning at a segment; ``kind`` groups repeated ones (default: by tag)."""
        kind = kind or tag
        self._kinds[kind] += 1
        if self._kinds[kind] <= MOST_OF_A_KIND:
            self.warnings.append(SegmentFault(segment, element, message, tag))

    def list(self, segment: int, text: str, why: str) -> None:
        """Add a part of the file that no carton could be made of; none of these is left out."""
        shown = text if len(text) <= _LONGEST_QUOTE else text[: _LONGEST_QUOTE - 3] + "..."
        self.not_understood.append(NotUnderstood(segment, shown, why))

    def close(self) -> None:
        """Say how many warnings of each kind were not written out."""
        for kind, count in self._kinds.items():
            if count > MOST_OF_A_KIND:
                more = count - MOST_OF_A_KIND
                self.warnings.append(Fault(0, 0, f"{more:,} more warnings of this kind were counted: {kind}", kind))
        self._kinds.clear()
