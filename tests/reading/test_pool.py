"""Reading in processes of its own, with readers that hang and crash."""

import os
import threading
import time

import pytest

from receiving.errors import MissingLibrary, NotAPhoto, PhotoReaderFailed
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
    assert caught.value.next_step == "Send a JPEG, PNG, HEIC, WebP or TIFF photo."


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
    monkeypatch.setattr(pool_module, "_Worker", lambda: started.append("a process"))
    PhotoPool(workers=4).close()
    assert started == []


def _hang(name: str, data: bytes, more: object) -> None:
    time.sleep(60)


def _crash(name: str, data: bytes, more: object) -> None:
    os._exit(11)


def _serve_with(read):
    def serve(pipe) -> None:
        pipe.send("started")
        while True:
            _, name, data, more = pipe.recv()
            pipe.send(pool_module._answer(read, name, data, more))

    return serve


def serve_hanging(pipe) -> None:
    _serve_with(_hang)(pipe)


def serve_crashing(pipe) -> None:
    _serve_with(_crash)(pipe)


def test_a_photo_that_hangs_is_stopped_at_the_limit_and_the_next_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    with PhotoPool(limit_s=1.0) as small:
        with monkeypatch.context() as patched:
            patched.setattr(pool_module, "_serve", serve_hanging)
            with pytest.raises(PhotoReaderFailed, match=r"'slow\.jpg' took more than 1 s and was stopped"):
                small.read("slow.jpg", PHOTO)
        small.limit_s = 60
        assert small.read("a.png", PHOTO).symbols


def test_a_photo_that_crashes_the_reader_is_reported_and_the_next_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    with PhotoPool() as small:
        with monkeypatch.context() as patched:
            patched.setattr(pool_module, "_serve", serve_crashing)
            with pytest.raises(PhotoReaderFailed, match=r"'bad\.jpg' made the reader crash"):
                small.read("bad.jpg", PHOTO)
        assert small.read("a.png", PHOTO).symbols


def test_a_closed_pool_says_so() -> None:
    closed = PhotoPool()
    closed.close()
    with pytest.raises(PhotoReaderFailed, match="is closed"):
        closed.read("a.png", PHOTO)
