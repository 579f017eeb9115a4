"""Work in processes of its own, with limits: what hangs, crashes or asks too much costs that piece of work alone.

A worker runs at low priority, and one task at a time. What a task gives, and the ReceivingError that it raises, comes
back as if it had been called here; anything else is `WorkStopped`, which says by what. Tasks are named
``"module:function"``, so that the process that asks does not import what they need.

    pool = WorkerPool(2, Limits(memory_mb=512, cpu_s=60, wall_s=120))
    manifests = pool.run("receiving.expected:read_manifests", name, data, kit=kit)

Memory and CPU time are bounded where the system does so (``resource`` of POSIX: RLIMIT_AS, RLIMIT_CPU, RLIMIT_FSIZE,
RLIMIT_NOFILE); time on the clock is bounded everywhere.
"""

from __future__ import annotations

import errno
import importlib
import multiprocessing
import os
import pickle
import queue
import signal
import threading
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from importlib.util import find_spec
from multiprocessing import resource_tracker
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from receiving.errors import Limit, ReceivingError, WorkStopped, is_out_of_memory
from receiving.messages import Text, message

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

START_LIMIT_S = 600.0
"""How long a worker may take to start and import its libraries: two seconds, on a machine under load a minute."""

STEP_BACK = 10  # how far workers step back behind the server (POSIX nice)
CPU_IS_LIMITED = find_spec("resource") is not None  # POSIX

MEGABYTE = 1024 * 1024
_CANCEL = getattr(signal, "SIGUSR1", None)


@dataclass(frozen=True)
class Limits:
    """What one task may use. None sets no limit.

    ``cpu_s`` seconds of CPU; ``wall_s`` seconds on the clock, more than a busy machine needs: they end what waits for
    ever; ``memory_mb`` megabytes beyond what the process holds once its libraries are loaded; ``file_mb`` the largest
    file that it may write; ``open_files`` how many files it may have open; ``nice`` how far it steps back (POSIX nice).
    """

    wall_s: float = 60.0
    cpu_s: float | None = None
    memory_mb: int | None = None
    file_mb: int | None = None
    open_files: int | None = 64
    nice: int = field(default_factory=lambda: STEP_BACK)


class Job:
    """A handle on one piece of work, by which another thread may end it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._worker: _Worker | None = None
        self.cancelled = False

    def cancel(self) -> None:
        """End this work, or never start it; work that is done already stays done."""
        with self._lock:
            self.cancelled = True
            if self._worker is not None:
                self._worker.interrupt()

    def _works(self, worker: _Worker | None) -> None:
        with self._lock:
            if worker is not None and self.cancelled:
                raise WorkStopped(message("The work was cancelled."), Limit.CANCELLED)
            self._worker = worker


class WorkerPool:
    """At most ``workers`` processes, started at the first use and replaced when one is lost.

    ``setup`` names a function that each process runs first. Safe to share between threads. Use as a context manager or
    call `close`.
    """

    def __init__(self, workers: int, limits: Limits, *, setup: str = "", name: str = "worker") -> None:
        self.workers = max(1, workers)
        self.limits = limits
        self._setup, self._name = setup, name
        self._lock = threading.Lock()
        self._closed = False
        self._idle: queue.LifoQueue[_Worker | None] = queue.LifoQueue()
        self._busy: set[_Worker] = set()
        for _ in range(self.workers):
            self._idle.put(None)

    def run(
        self,
        task: str,
        *values: Any,
        job: Job | None = None,
        free_within_s: float | None = None,
        wall_s: float | None = None,
        **named: Any,
    ) -> Any:
        """What ``task`` ("module:function") gives for these values, which must pickle.

        Waits for a free worker, at most ``free_within_s`` seconds; ``wall_s`` replaces the limit on time. Raises the
        ReceivingError that the task raised, and WorkStopped.
        """
        question, limit_s = (task, values, named), wall_s or self.limits.wall_s
        try:
            return self._asked(self._free(free_within_s), question, job, limit_s)
        except _Lost:
            # Killed from outside, by the system when memory is short or by a person, which says nothing of the task.
            try:
                return self._asked(self._free(free_within_s), question, job, limit_s)
            except _Lost:
                raise WorkStopped(message("Its process was killed twice."), Limit.CRASHED) from None

    def prepare(self) -> None:
        """Start a process where one is free to, and wait until it is ready. Raises WorkStopped."""
        worker, ready = self._free(0), False
        try:
            worker.wait_until_started()
            ready = True
        except (TimeoutError, EOFError, OSError) as fault:
            raise WorkStopped(message("Its process did not start."), Limit.CRASHED) from fault
        finally:
            self._busy.discard(worker)
            if not ready:
                worker.kill()
            self._idle.put(worker if ready else None)

    def close(self) -> None:
        """End the processes; what they work on is given up."""
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

    def _free(self, within_s: float | None) -> _Worker:
        """A worker that runs, marked busy; gives the place back when the pool is closed or no process starts."""
        try:
            worker = self._idle.get(timeout=within_s)
        except queue.Empty:
            raise WorkStopped(
                message("All workers are busy."),
                Limit.BUSY,
                next_step=message("Nothing was lost; try again in a moment."),
            ) from None
        try:
            with self._lock:
                if self._closed:
                    raise WorkStopped(
                        message("The workers are closed."), Limit.CLOSED, next_step=message("Start the service again.")
                    )
                if worker is None or not worker.alive:
                    worker = _Worker(self.limits, self._setup, self._name)
                self._busy.add(worker)
        except BaseException:
            self._idle.put(None)
            raise
        return worker

    def _asked(self, worker: _Worker, question: tuple[Any, ...], job: Job | None, wall_s: float) -> Any:
        kept: _Worker | None = None
        try:
            worker.wait_until_started()
            if job is not None:
                job._works(worker)
            answer = worker.ask(question, wall_s)
            kept = worker
        except TimeoutError as fault:
            raise WorkStopped(
                message("It took more than {wall_s} s and was stopped.", wall_s=float(wall_s or 0)), Limit.TIME
            ) from fault
        except (EOFError, OSError) as fault:
            raise self._ended(worker) from fault
        except WorkStopped:
            kept = worker
            raise
        finally:
            if job is not None:
                job._works(None)
            self._busy.discard(worker)
            if kept is None:
                worker.kill()
            self._idle.put(kept)
        return _result_of(answer)

    def _ended(self, worker: _Worker) -> Exception:
        """Why a worker's end of the pipe is gone."""
        if self._closed:
            return WorkStopped(message("It was given up: the workers were closed."), Limit.CLOSED)
        code = worker.exit_code()
        if code == -getattr(signal, "SIGXCPU", 0):
            return WorkStopped(
                message("It took more than {cpu_s} s of CPU and was stopped.", cpu_s=float(self.limits.cpu_s or 0)),
                Limit.TIME,
            )
        if code in (-getattr(signal, "SIGKILL", 9), -signal.SIGTERM):
            return _Lost()
        return WorkStopped(message("Its process crashed; it was started again."), Limit.CRASHED)


class _Lost(Exception):
    """A worker was killed from outside."""


class _Worker:
    """One process and our end of the pipe to it."""

    def __init__(self, limits: Limits, setup: str, name: str) -> None:
        # Not fork: the server has threads, and a forked lock stays locked for ever.
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs, limits, setup), daemon=True, name=name)
        with deaf_to_interrupts():
            self._process.start()
        theirs.close()
        self._started = False
        self._ending = threading.Lock()

    @property
    def alive(self) -> bool:
        return self._process.is_alive()

    def exit_code(self) -> int | None:
        self._process.join(5)
        return self._process.exitcode

    def wait_until_started(self) -> None:
        if not self._started:
            self._receive(START_LIMIT_S)
            self._started = True

    def ask(self, question: tuple[Any, ...], wall_s: float) -> Any:
        self._pipe.send(question)
        return self._receive(wall_s)

    def _receive(self, limit_s: float) -> Any:
        if not self._pipe.poll(limit_s):
            raise TimeoutError(f"no answer in {limit_s} s")
        return self._pipe.recv()

    def interrupt(self) -> None:
        """End the task in work; where the system has no signal for it, the process."""
        if _CANCEL is None or self._process.pid is None:
            self._process.kill()
        elif self.alive:
            os.kill(self._process.pid, _CANCEL)

    def kill(self) -> None:
        with self._ending:  # the pool's end and the end of its work may meet
            self._process.kill()
            self._process.join()
            self._pipe.close()


def _result_of(answer: tuple[Any, ...]) -> Any:
    kind, *rest = answer
    if kind == "result":
        return rest[0]
    if kind == "refused":
        module, name, values, fields = rest
        fault: ReceivingError = getattr(importlib.import_module(module), name).__new__(
            getattr(importlib.import_module(module), name)
        )
        fault.args = values
        fault.__dict__.update(fields)
        raise fault
    limit, what, next_step = rest
    raise WorkStopped(what, Limit(limit), next_step=next_step)


class _Cancelled(BaseException):
    """Raised inside a task when another thread wants it to end."""


class _Turn:
    """Whether a task is in work, so that a late signal ends nothing else."""

    working = False


def _serve(pipe: Connection, limits: Limits, setup: str) -> None:
    """The worker's loop: questions in, answers out, until the other end is gone."""
    # The processes share the cores already: a thread pool in each only gets in the way.
    os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the server, which ends its workers itself
    if _CANCEL is not None:
        signal.signal(_CANCEL, _cancel)
    _step_back(limits.nice)  # before the libraries: loading them takes a second of CPU
    if setup:
        _named(setup)()
    _limit_process(limits)
    pipe.send("started")
    while True:
        try:
            question = pipe.recv()
        except EOFError:
            return
        _limit_cpu(limits)
        pipe.send_bytes(_answer(*question))


def _cancel(number: int, frame: Any) -> None:
    if _Turn.working:
        _Turn.working = False
        raise _Cancelled


def _answer(task: str, values: tuple[Any, ...], named: dict[str, Any]) -> bytes:
    """The pickled answer: a result, a refusal of ours, or by what limit the task was stopped."""
    try:
        _Turn.working = True
        try:
            given = pickle.dumps(("result", _named(task)(*values, **named)))
        finally:
            _Turn.working = False
        return given
    except _Cancelled:
        return _stopped(Limit.CANCELLED, message("The work was cancelled."), "")
    except WorkStopped as fault:
        return _stopped(fault.limit, fault.message, fault.next_step)
    except ReceivingError as fault:
        kind = type(fault)
        return pickle.dumps(("refused", kind.__module__, kind.__qualname__, fault.args, vars(fault)))
    except Exception as fault:
        if is_out_of_memory(fault):
            return _stopped(Limit.MEMORY, message("It needs more memory than it may have."), "")
        if isinstance(fault, OSError) and fault.errno in (errno.EFBIG, errno.EMFILE):
            return _stopped(Limit.FILES, message("It needs larger or more files than it may have."), "")
        last = traceback.extract_tb(fault.__traceback__)[-1]
        what, at = f"{type(fault).__name__}: {fault}", f"{last.name}, line {last.lineno}"
        stated = message("It failed inside: {fault} ({place}).", fault=what, place=at)
        return _stopped(Limit.FAILED, stated, message("Report this message."))


def _stopped(limit: Limit, what: Text, next_step: Text) -> bytes:
    return pickle.dumps(("stopped", limit.value, what, next_step))


def _named(task: str) -> Callable[..., Any]:
    module, _, name = task.partition(":")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


def _step_back(nice: int) -> None:
    if nice and hasattr(os, "nice"):
        os.nice(nice)


def _limit_process(limits: Limits) -> None:
    try:
        import resource
    except ImportError:  # not POSIX: the limit on time remains
        return
    if limits.memory_mb is not None:
        _set_limit(resource, resource.RLIMIT_AS, _held_bytes() + limits.memory_mb * MEGABYTE)
    if limits.file_mb is not None:
        _set_limit(resource, resource.RLIMIT_FSIZE, limits.file_mb * MEGABYTE)
    if limits.open_files is not None:
        _set_limit(resource, resource.RLIMIT_NOFILE, limits.open_files)
    _set_limit(resource, resource.RLIMIT_CORE, 0)


def _limit_cpu(limits: Limits) -> None:
    """Counted from what this process has used so far, since it does many tasks."""
    if limits.cpu_s is None:
        return
    try:
        import resource
    except ImportError:
        return
    used = resource.getrusage(resource.RUSAGE_SELF)
    _set_limit(resource, resource.RLIMIT_CPU, int(used.ru_utime + used.ru_stime + limits.cpu_s) + 1)


def _set_limit(resource: Any, which: int, wanted: int) -> None:
    """The soft limit, never above the hard one; a system that knows the limit and refuses to set it sets none."""
    hard = resource.getrlimit(which)[1]
    if hard != resource.RLIM_INFINITY:
        wanted = min(wanted, hard)
    with suppress(ValueError, OSError):
        resource.setrlimit(which, (wanted, hard))


def _held_bytes() -> int:
    """The address space of this process (Linux); elsewhere nothing, since RLIMIT_AS is not kept there."""
    try:
        pages = Path("/proc/self/statm").read_text().split()[0]  # proc(5): sizes in pages
        return int(pages) * os.sysconf("SC_PAGE_SIZE")
    except OSError:
        return 1 << 40


@contextmanager
def deaf_to_interrupts() -> Iterator[None]:
    """Start processes that Ctrl+C does not reach, not even while they start and import.

    A process takes the signal mask of the thread that starts it (POSIX fork, execve).
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # its own start would unblock the signal again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
