"""Reading in processes of its own, with readers that hang and crash."""

import os
import threading
import time

import pytest

from receiving import workers
from receiving.errors import MissingLibrary, NotAPhoto, PhotoReaderFailed, PhotoTooLarge
from receiving.model import ExpectedCode
from receiving.reading import pool as pool_module
from receiving.reading.pool import PhotoPool
from tests.reading.photo_made import as_file, code, on_board

PHOTO = as_file(on_board((code("CARTON-07", "Code128", height=90), (600, 450), 0.0)))


@pytest.fixture(scope="module")
def pool():
    with PhotoPool(workers=2, limit_s=60) as shared:
        yield shared


def test_a_photo_is_read_in_another_process(pool: PhotoPool) -> None:
    reading = pool.read("a.png", PHOTO)
    assert [s.raw for s in reading.symbols] == ["CARTON-07"]


def test_expected_codes_travel_to_the_process(pool: PhotoPool) -> None:
    reading = pool.read("a.png", PHOTO, (ExpectedCode("CARTON-07", "]C0"),))
    assert [s.raw for s in reading.symbols] == ["CARTON-07"]


def test_a_refusal_arrives_with_its_next_step(pool: PhotoPool) -> None:
    with pytest.raises(NotAPhoto) as caught:
        pool.read("a.txt", b"hello, this is text")
    assert str(caught.value.next_step) == "Send a JPEG, PNG, HEIC, WebP or TIFF photo."


def test_several_threads_share_it(pool: PhotoPool) -> None:
    seen: list[str] = []
    threads = [threading.Thread(target=lambda: seen.append(pool.read("a", PHOTO).symbols[0].raw)) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == ["CARTON-07"] * 5


def test_videos_and_print_are_read_there_too(pool: PhotoPool) -> None:
    with pytest.raises(NotAPhoto, match="is not a video"):
        pool.read_video("a.mp4", b"no video")
    with pytest.raises((NotAPhoto, MissingLibrary)):
        pool.printed_lines("a.png", b"no photo")


def test_no_process_starts_before_the_first_photo(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[str] = []
    monkeypatch.setattr(workers, "_Worker", lambda *_: started.append("a process"))
    PhotoPool(workers=4).close()
    assert started == []


def test_a_label_that_somebody_waits_for_is_read_while_photos_take_their_time() -> None:
    with PhotoPool(workers=1, limit_s=60) as both:
        both.prepare()
        slow = threading.Thread(target=lambda: both._workers.run("time:sleep", 8))
        slow.start()
        assert [symbol.raw for symbol in both.read_awaited("a.png", PHOTO).symbols] == ["CARTON-07"]
        assert slow.is_alive()
        slow.join()


def hang(name: str, data: bytes, expected: object = ()) -> None:
    """A reader that never ends."""
    time.sleep(1800)


def spin(name: str, data: bytes, expected: object = ()) -> None:
    """A reader that works on and on."""
    while True:
        pass


def crash(name: str, data: bytes, expected: object = ()) -> None:
    """A reader that takes its process with it."""
    os._exit(11)


def swell(name: str, data: bytes, expected: object = ()) -> int:
    """A reader that wants more memory than there is for it."""
    return len(bytearray(900 * 1024 * 1024))


def test_a_photo_that_waits_is_stopped_by_the_clock_and_the_next_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool_module, "BUSY", 1)
    with PhotoPool(limit_s=1.0) as small:
        with monkeypatch.context() as patched:
            patched.setitem(pool_module.TASKS, "photo", "tests.reading.test_pool:hang")
            with pytest.raises(PhotoReaderFailed, match=r"'slow\.jpg' took more than 1 s and was stopped"):
                small.read("slow.jpg", PHOTO)
        small.limit_s = 1800
        assert small.read("a.png", PHOTO).symbols


def test_a_photo_that_works_too_long_is_stopped_by_its_cpu_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool_module, "BUSY", 1800)
    monkeypatch.setitem(pool_module.TASKS, "photo", "tests.reading.test_pool:spin")
    stopped = pytest.raises(PhotoReaderFailed, match=r"'slow\.jpg' took more than 1 s and was stopped")
    with PhotoPool(limit_s=1.0) as small, stopped:
        small.read("slow.jpg", PHOTO)


def test_a_photo_that_crashes_the_reader_is_reported_and_the_next_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    with PhotoPool() as small:
        with monkeypatch.context() as patched:
            patched.setitem(pool_module.TASKS, "photo", "tests.reading.test_pool:crash")
            with pytest.raises(PhotoReaderFailed, match=r"'bad\.jpg' made the reader crash"):
                small.read("bad.jpg", PHOTO)
        assert small.read("a.png", PHOTO).symbols


def test_a_photo_that_needs_too_much_memory_is_refused_and_the_next_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    with PhotoPool(memory_mb=400) as small:
        with monkeypatch.context() as patched:
            patched.setitem(pool_module.TASKS, "photo", "tests.reading.test_pool:swell")
            with pytest.raises(PhotoTooLarge, match=r"'huge\.png' needs more memory") as caught:
                small.read("huge.png", PHOTO)
        assert "normal size" in str(caught.value.next_step)
        assert small.read("a.png", PHOTO).symbols


def test_a_closed_pool_says_so() -> None:
    closed = PhotoPool()
    closed.close()
    with pytest.raises(PhotoReaderFailed, match="is closed"):
        closed.read("a.png", PHOTO)
