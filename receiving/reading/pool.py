"""Reading in processes of its own: a photo that makes a decoder hang or crash costs that photo and nothing else."""

from __future__ import annotations

import multiprocessing
import os
import queue
import threading
import traceback
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from receiving import errors
from receiving.errors import PhotoReaderFailed, ReceivingError
from receiving.model import ExpectedCode, PhotoReading, Quad

if TYPE_CHECKING:
    from receiving.reading.printed import PrintedLine
    from receiving.reading.stills import Still
    from receiving.reading.video import BurstReading

START_LIMIT_S = 60
"""How long a worker may take to start and import its libraries; on a loaded machine this is seconds."""


class PhotoPool:
    """Reads photos in ``workers`` processes, each killed and replaced after ``limit_s`` seconds on one photo.

    Safe to share between threads; processes start at the first use. Use as a context manager or call `close`.
    """

    def __init__(self, workers: int = 1, limit_s: float = 60) -> None:
        self.workers = max(1, workers)
        self.limit_s = limit_s
        self._lock = threading.Lock()
        self._closed = False
        self._idle: queue.LifoQueue[_Worker | None] = queue.LifoQueue()
        self._busy: set[_Worker] = set()
        for _ in range(self.workers):
            self._idle.put(None)

    def read(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        """What `read_photo` gives, from another process; waits for a free one.

        Raises what `read_photo` raises, and PhotoReaderFailed when the process died or ran over ``limit_s``.
        """
        reading: PhotoReading = self._done("photo", name, data, tuple(expected))
        return reading

    def read_video(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> BurstReading:
        """What `read_video` gives, from another process; raises as `read` does."""
        reading: BurstReading = self._done("video", name, data, tuple(expected))
        return reading

    def video_stills(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> tuple[Still, ...]:
        """What `video_stills` gives, from another process; raises as `read` does."""
        stills: tuple[Still, ...] = self._done("stills", name, data, tuple(expected))
        return stills

    def poster(self, name: str, data: bytes) -> bytes:
        """What `poster` gives, from another process; raises as `read` does."""
        jpeg: bytes = self._done("poster", name, data, ())
        return jpeg

    def printed_lines(self, name: str, data: bytes, regions: Sequence[Quad] = ()) -> tuple[PrintedLine, ...]:
        """What `printed_lines` gives, from another process; raises as it does, and as `read` does."""
        lines: tuple[PrintedLine, ...] = self._done("printed", name, data, tuple(regions))
        return lines

    def _done(self, task: str, name: str, data: bytes, more: tuple[Any, ...]) -> Any:
        worker = self._ready(self._idle.get())
        kept: _Worker | None = None
        try:
            worker.wait_until_started()
            answer = worker.ask((task, name, data, more), self.limit_s)
            kept = worker
        except (EOFError, OSError, TimeoutError) as fault:
            raise self._failed(name, fault) from fault
        finally:
            self._busy.discard(worker)
            if kept is None:
                worker.kill()
            self._idle.put(kept)
        return _result_of(name, answer)

    def close(self) -> None:
        """End the processes; a photo that is being read is given up."""
        with self._lock:
            self._closed = True
            for worker in tuple(self._busy):
                worker.kill()
        for _ in range(self._idle.qsize()):
            idle = self._idle.get_nowait()
            if idle is not None:
                idle.kill()
            self._idle.put(None)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, tb: TracebackType | None) -> None:
        self.close()

    def _ready(self, worker: _Worker | None) -> _Worker:
        """A worker that runs, marked busy; gives the place back when the pool is closed or no process starts."""
        try:
            with self._lock:
                if self._closed:
                    raise PhotoReaderFailed("The photo reader is closed.", next_step="Start the service again.")
                if worker is None or not worker.alive:
                    worker = _Worker()
                self._busy.add(worker)
        except BaseException:
            self._idle.put(None)
            raise
        return worker

    def _failed(self, name: str, fault: Exception) -> PhotoReaderFailed:
        if self._closed:
            return PhotoReaderFailed(f"Reading {name!r} was given up: the photo reader was closed.")
        if isinstance(fault, TimeoutError):
            what = f"Reading the photo {name!r} took more than {self.limit_s:g} s and was stopped."
        else:
            what = f"The photo {name!r} made the reader crash; it was started again."
        return PhotoReaderFailed(what, next_step="Take the photo again, closer, or scan or type the label.")


class _Worker:
    """One process and our end of the pipe to it."""

    def __init__(self) -> None:
        # Not fork: the server has threads, and a forked lock stays locked for ever.
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs,), daemon=True, name="photo-reader")
        self._process.start()
        theirs.close()
        self._started = False

    @property
    def alive(self) -> bool:
        return self._process.is_alive()

    def wait_until_started(self) -> None:
        if not self._started:
            self._receive(START_LIMIT_S)
            self._started = True

    def ask(self, question: tuple[str, str, bytes, tuple[Any, ...]], limit_s: float) -> Any:
        self._pipe.send(question)
        return self._receive(limit_s)

    def _receive(self, limit_s: float) -> Any:
        if not self._pipe.poll(limit_s):
            raise TimeoutError(f"no answer in {limit_s} s")
        return self._pipe.recv()

    def kill(self) -> None:
        self._process.kill()
        self._process.join()
        self._pipe.close()


def _result_of(name: str, answer: Any) -> Any:
    kind, *rest = answer
    if kind == "result":
        return rest[0]
    if kind == "refused":
        fault, message, next_step = rest
        raise getattr(errors, fault)(message, next_step=next_step)
    raise PhotoReaderFailed(
        f"Reading the photo {name!r} failed inside: {rest[0]}",
        next_step="Take the photo again, or scan or type the label; report this message.",
    )


def _serve(pipe: Connection) -> None:
    """The worker's loop: photos in, readings out, until the other end is gone."""
    # The processes share the cores already: a thread pool in each only gets in the way.
    os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))
    import cv2

    cv2.setNumThreads(1)
    pipe.send("started")
    while True:
        try:
            task, name, data, more = pipe.recv()
        except (EOFError, KeyboardInterrupt):
            return
        pipe.send(_answer(_task(task), name, data, more))


def _task(name: str) -> Callable[[str, bytes, tuple[Any, ...]], Any]:
    """What a worker does under this name; imported where it is used, so that the server stays light."""
    from receiving.reading.photo import read_photo
    from receiving.reading.printed import printed_lines
    from receiving.reading.stills import poster, video_stills
    from receiving.reading.video import read_video

    return {
        "photo": lambda name, data, expected: read_photo(name, data, expected=expected),
        "video": lambda name, data, expected: read_video(name, data, expected=expected),
        "stills": lambda name, data, expected: video_stills(name, data, expected=expected),
        "poster": lambda name, data, _: poster(name, data),
        "printed": printed_lines,
    }[name]


def _answer(do: Callable[[str, bytes, tuple[Any, ...]], Any], name: str, data: bytes, more: tuple[Any, ...]) -> Any:
    try:
        return ("result", do(name, data, more))
    except ReceivingError as fault:
        return ("refused", type(fault).__name__, fault.message, fault.next_step)
    except Exception as fault:
        last = traceback.extract_tb(fault.__traceback__)[-1]
        return ("failed", f"{type(fault).__name__}: {fault} ({last.name}, line {last.lineno})")
