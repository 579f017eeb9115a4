"""Reading in processes of its own: a photo that makes a decoder hang or crash costs that photo and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from receiving.errors import Limit, PhotoReaderFailed, PhotoTooLarge, WorkStopped
from receiving.messages import message
from receiving.model import ExpectedCode, PhotoReading, Quad
from receiving.workers import CPU_IS_LIMITED, Limits, WorkerPool

if TYPE_CHECKING:
    from receiving.reading.printed import PrintedLine
    from receiving.reading.video import BurstReading, Still

MEMORY_MB = 3072
"""What reading one photo may take beyond the libraries: some 30 bytes a pixel at 64 megapixels, with room."""

BUSY = 20
"""How many times its limit a photo may take on the clock. What is limited is its CPU time: reading steps back behind
the server, and on a busy machine a photo of two seconds may wait minutes for its turn."""

TASKS = {
    "photo": "receiving.reading.photo:read_photo",
    "video": "receiving.reading.video:read_video",
    "stills": "receiving.reading.video:video_stills",
    "poster": "receiving.reading.video:poster",
    "printed": "receiving.reading.printed:printed_lines",
}
"""What the processes do, by name."""


class PhotoPool:
    """Reads photos in ``workers`` processes, each killed and replaced after ``limit_s`` seconds of CPU on one photo.

    Safe to share between threads; processes start at the first use. Use as a context manager or call `close`.
    """

    def __init__(self, workers: int = 1, limit_s: float = 60, *, memory_mb: int = MEMORY_MB) -> None:
        self.limit_s = limit_s
        limits = Limits(wall_s=self._clock_s, cpu_s=limit_s, memory_mb=memory_mb, open_files=256)
        self._workers = WorkerPool(workers, limits, setup="receiving.reading.pool:use_one_thread", name="photo-reader")
        self._awaited = WorkerPool(
            1, replace(limits, nice=0), setup="receiving.reading.pool:load_readers", name="label-reader"
        )

    @property
    def _clock_s(self) -> float:
        return self.limit_s * (BUSY if CPU_IS_LIMITED else 1)

    def read(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        """What `read_photo` gives, from another process; waits for a free one.

        Raises what `read_photo` raises, and PhotoReaderFailed when the process died or ran over a limit.
        """
        reading: PhotoReading = self._done("photo", name, data, expected=tuple(expected))
        return reading

    def read_awaited(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        """The same for a small picture that somebody waits for: by a process that steps back behind nobody.

        It reads nothing else, so that no photo of some seconds is before it.
        """
        reading: PhotoReading = self._done("photo", name, data, expected=tuple(expected), by=self._awaited)
        return reading

    def prepare(self) -> None:
        """Start the process that reads what is awaited, with all that it needs, unless it runs."""
        with suppress(WorkStopped):  # the first picture says why
            self._awaited.prepare()

    def read_video(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> BurstReading:
        """What `read_video` gives, from another process; raises as `read` does."""
        reading: BurstReading = self._done("video", name, data, expected=tuple(expected))
        return reading

    def video_stills(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> tuple[Still, ...]:
        """What `video_stills` gives, from another process; raises as `read` does."""
        stills: tuple[Still, ...] = self._done("stills", name, data, expected=tuple(expected))
        return stills

    def poster(self, name: str, data: bytes) -> bytes:
        """What `poster` gives, from another process; raises as `read` does."""
        jpeg: bytes = self._done("poster", name, data)
        return jpeg

    def printed_lines(self, name: str, data: bytes, regions: Sequence[Quad] = ()) -> tuple[PrintedLine, ...]:
        """What `printed_lines` gives, from another process; raises as it does, and as `read` does."""
        lines: tuple[PrintedLine, ...] = self._done("printed", name, data, tuple(regions))
        return lines

    def _done(self, task: str, name: str, data: bytes, *more: Any, by: WorkerPool | None = None, **named: Any) -> Any:
        try:
            return (by or self._workers).run(TASKS[task], name, data, *more, wall_s=self._clock_s, **named)
        except WorkStopped as fault:
            raise self._failed(name, fault) from fault

    def close(self) -> None:
        """End the processes; a photo that is being read is given up."""
        self._workers.close()
        self._awaited.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, tb: TracebackType | None) -> None:
        self.close()

    def _failed(self, name: str, fault: WorkStopped) -> PhotoReaderFailed | PhotoTooLarge:
        again = message("Take the photo again, closer, or scan or type the label.")
        match fault.limit:
            case Limit.CLOSED:
                return PhotoReaderFailed(
                    message("Reading {name} was given up: the photo reader is closed.", name=repr(name)),
                    next_step=message("Start the service again."),
                )
            case Limit.TIME:
                what = message(
                    "Reading the photo {name} took more than {seconds} s and was stopped.",
                    name=repr(name),
                    seconds=float(self.limit_s),
                )
            case Limit.MEMORY:
                what = message("Reading the photo {name} needs more memory than it may have.", name=repr(name))
                return PhotoTooLarge(what, next_step=message("Take it again at the camera's normal size, as JPEG."))
            case Limit.FAILED:
                what = message("Reading the photo {name} failed inside: {fault}", name=repr(name), fault=fault.message)
                again = message("Take the photo again, or scan or type the label; report this message.")
            case _:
                what = message("The photo {name} made the reader crash; it was started again.", name=repr(name))
        return PhotoReaderFailed(what, next_step=again)


def use_one_thread() -> None:
    """Make a reader's process ready: the processes share the cores already, a thread pool in each gets in the way."""
    import cv2

    import receiving.reading.photo  # noqa: F401 - its libraries belong to what a process holds before it is limited

    cv2.setNumThreads(1)


def load_readers() -> None:
    """The same with what compares a label with expected codes, which takes a third of a second to load."""
    import receiving.reading.guided.reader  # noqa: F401 - as above

    use_one_thread()
