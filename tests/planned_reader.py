"""A photo reader that gives what a test planned."""

from collections.abc import Sequence

from receiving.errors import PhotoReaderFailed
from receiving.model import ExpectedCode, PhotoReading, Quad
from receiving.reading import PrintedLine, Still


class PlannedReader:
    """Gives the readings that the test planned, by the photo's name."""

    def __init__(self) -> None:
        self.readings: dict[str, PhotoReading] = {}
        self.expected: tuple[ExpectedCode, ...] = ()
        self.stills: tuple[Still, ...] = ()
        self.print: tuple[str, ...] = ()
        self.frame = b""

    def read(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        self.expected = tuple(expected)
        if name not in self.readings:
            raise PhotoReaderFailed(f"The photo {name!r} made the reader crash.", next_step="Take it again.")
        return self.readings[name]

    def read_awaited(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        return self.read(name, data, expected)

    def prepare(self) -> None:
        pass

    def video_stills(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> tuple[Still, ...]:
        return self.stills

    def poster(self, name: str, data: bytes) -> bytes:
        return self.frame

    def printed_lines(self, name: str, data: bytes, regions: Sequence[Quad] = ()) -> tuple[PrintedLine, ...]:
        return tuple(PrintedLine(line, regions[0], 0.9) for line in self.print)

    def close(self) -> None:
        pass
