"""Ctrl+C and the processes that a command starts: the command ends them itself, without a word from them."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker


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
