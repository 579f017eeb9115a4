"""Work in processes of its own: limits, refusals, cancelled work, and workers that are lost."""

import contextlib
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving import workers
from receiving.errors import Fault, Limit, ManifestFaults, WorkStopped
from receiving.workers import Job, Limits, WorkerPool

HERE = "tests.test_workers"


def double(value: int, *, more: int = 0) -> int:
    return 2 * value + more


def refuse() -> None:
    raise ManifestFaults("m.csv", (Fault(3, 1, "no such column", "sscc"),))


def process_id() -> int:
    return os.getpid()


def be_killed_once(mark: str) -> str:
    """Killed from outside in the midst of it, the first time."""
    if not Path(mark).exists():
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return "done"


def be_killed() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def spin(seconds: float) -> str:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        pass
    return "done"


def swell(megabytes: int) -> int:
    return len(bytearray(megabytes * 1024 * 1024))


def write(folder: str, megabytes: int) -> None:
    (Path(folder) / "large").write_bytes(bytes(megabytes * 1024 * 1024))


def niceness() -> int:
    return os.nice(0)


AT_SETUP: list[int] = []


def note_niceness() -> None:
    AT_SETUP.append(os.nice(0))


def niceness_at_setup() -> int:
    return AT_SETUP[0]


def fail() -> None:
    raise ValueError("odd value")


@pytest.fixture(scope="module")
def pool() -> Iterator[WorkerPool]:
    with WorkerPool(1, Limits(wall_s=30, memory_mb=200, file_mb=1)) as shared:
        yield shared


def test_a_task_gives_what_it_would_give_here(pool: WorkerPool) -> None:
    assert pool.run(f"{HERE}:double", 4, more=1) == 9
    assert pool.run(f"{HERE}:process_id") != os.getpid()


def test_a_refusal_of_ours_comes_back_whole(pool: WorkerPool) -> None:
    with pytest.raises(ManifestFaults) as caught:
        pool.run(f"{HERE}:refuse")
    assert caught.value.faults == (Fault(3, 1, "no such column", "sscc"),)
    assert str(caught.value) == str(ManifestFaults("m.csv", caught.value.faults))


def test_any_other_fault_is_told_with_its_place_and_the_worker_goes_on(pool: WorkerPool) -> None:
    before = pool.run(f"{HERE}:process_id")
    with pytest.raises(WorkStopped, match="ValueError: odd value \\(fail, line") as caught:
        pool.run(f"{HERE}:fail")
    assert caught.value.limit is Limit.FAILED
    assert pool.run(f"{HERE}:process_id") == before


def test_a_worker_killed_while_idle_is_replaced_without_a_word(pool: WorkerPool) -> None:
    os.kill(pool.run(f"{HERE}:process_id"), signal.SIGKILL)
    assert pool.run(f"{HERE}:double", 2) == 4


def test_work_killed_from_outside_is_done_once_more(pool: WorkerPool, tmp_path: Path) -> None:
    assert pool.run(f"{HERE}:be_killed_once", str(tmp_path / "mark")) == "done"


def test_work_that_is_killed_twice_is_given_up(pool: WorkerPool) -> None:
    with pytest.raises(WorkStopped, match="killed twice") as caught:
        pool.run(f"{HERE}:be_killed")
    assert caught.value.limit is Limit.CRASHED
    assert pool.run(f"{HERE}:double", 2) == 4


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not keep RLIMIT_AS")
def test_memory_beyond_the_limit_is_refused(pool: WorkerPool) -> None:
    assert pool.run(f"{HERE}:swell", 50) == 50 * 1024 * 1024
    with pytest.raises(WorkStopped) as caught:
        pool.run(f"{HERE}:swell", 400)
    assert caught.value.limit is Limit.MEMORY


def test_files_beyond_the_limit_are_refused(pool: WorkerPool, tmp_path: Path) -> None:
    with pytest.raises(WorkStopped) as caught:
        pool.run(f"{HERE}:write", str(tmp_path), 2)
    assert caught.value.limit is Limit.FILES


def test_time_on_the_clock_is_bounded(pool: WorkerPool) -> None:
    with pytest.raises(WorkStopped, match=r"more than 0.5 s") as caught:
        pool.run(f"{HERE}:spin", 30, wall_s=0.5)
    assert caught.value.limit is Limit.TIME


def test_cpu_time_is_bounded_for_each_task_anew() -> None:
    with WorkerPool(1, Limits(wall_s=1800, cpu_s=2)) as small:
        assert small.run(f"{HERE}:spin", 1.2) == "done"
        assert small.run(f"{HERE}:spin", 1.2) == "done"
        with pytest.raises(WorkStopped, match="of CPU") as caught:
            small.run(f"{HERE}:spin", 1500)
        assert caught.value.limit is Limit.TIME


def test_cancelled_work_ends_and_its_process_goes_on(pool: WorkerPool) -> None:
    before = pool.run(f"{HERE}:process_id")
    job = Job()
    threading.Timer(0.3, job.cancel).start()
    start = time.monotonic()
    with pytest.raises(WorkStopped) as caught:
        pool.run(f"{HERE}:spin", 900, wall_s=1800, job=job)
    assert caught.value.limit is Limit.CANCELLED
    assert time.monotonic() - start < 800
    assert pool.run(f"{HERE}:process_id") == before


def test_work_cancelled_before_its_turn_never_starts(pool: WorkerPool) -> None:
    job = Job()
    job.cancel()
    with pytest.raises(WorkStopped) as caught:
        pool.run(f"{HERE}:spin", 20, job=job)
    assert caught.value.limit is Limit.CANCELLED


def test_a_full_pool_says_so_in_time(pool: WorkerPool) -> None:
    job = Job()
    busy = threading.Thread(target=lambda: _swallow(pool, job))
    busy.start()
    time.sleep(0.2)
    with pytest.raises(WorkStopped) as caught:
        pool.run(f"{HERE}:double", 2, free_within_s=0.2)
    assert caught.value.limit is Limit.BUSY
    job.cancel()
    busy.join()


def test_a_process_is_started_before_it_is_asked_for_and_never_twice() -> None:
    with WorkerPool(1, Limits(), setup=f"{HERE}:note_niceness") as early:
        early.prepare()
        (worker,) = [worker for worker in early._idle.queue if worker]
        early.prepare()
        assert early.run(f"{HERE}:process_id") == worker._process.pid


def test_a_process_that_does_not_start_leaves_its_place() -> None:
    with WorkerPool(1, Limits(), setup=f"{HERE}:nothing_of_that_name") as broken:
        for _ in range(2):
            with pytest.raises(WorkStopped):
                broken.prepare()


def _swallow(pool: WorkerPool, job: Job) -> None:
    with pytest.raises(WorkStopped):
        pool.run(f"{HERE}:spin", 20, job=job)


def test_workers_step_back_behind_the_server(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "STEP_BACK", 10)
    with WorkerPool(1, Limits()) as behind:
        assert behind.run(f"{HERE}:niceness") >= min(19, os.nice(0) + 10)


def test_workers_step_back_before_they_load_their_libraries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "STEP_BACK", 10)
    with WorkerPool(1, Limits(), setup=f"{HERE}:note_niceness") as behind:
        assert behind.run(f"{HERE}:niceness_at_setup") >= min(19, os.nice(0) + 10)


def test_a_worker_that_two_threads_end_at_once_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """As when the pool is closed while the work that it gives up comes to its own end."""
    with WorkerPool(1, Limits()) as pool:
        pool.run(f"{HERE}:double", 1)
        worker = pool._idle.get_nowait()
        assert worker is not None
        met = threading.Barrier(2)
        close = worker._pipe._close

        def close_slowly() -> None:
            with contextlib.suppress(threading.BrokenBarrierError):
                met.wait(0.5)
            close()

        monkeypatch.setattr(worker._pipe, "_close", close_slowly)
        faults: list[BaseException] = []

        def end() -> None:
            try:
                worker.kill()
            except OSError as fault:
                faults.append(fault)

        threads = [threading.Thread(target=end) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert faults == []
        pool._idle.put(None)
