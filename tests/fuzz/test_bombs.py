"""Small files that ask for much: each is answered with a result or its documented error, in seconds and little memory.

A megabyte of each, since that is what anybody may send; time and memory are those of a process of its own.
"""

import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.expected.edi_messages import STANDARD, isa, sscc, x12
from tests.expected.test_too_much import packages_and_free_goods

ROOT = Path(__file__).resolve().parents[2]
MEGABYTE = 1_000_000
MOST_CPU_S, MOST_MB = 60, 700
HEIC = ROOT / "tests" / "reading" / "photos" / "ramp.heic"


def in_a_notice(*parts: str) -> bytes:
    return x12((*STANDARD[:6], *parts, *STANDARD[6:]))


def larger_heic() -> bytes:
    """A picture whose header (ispe, ISO/IEC 23008-12) says 60,000 by 60,000."""
    data = bytearray(HEIC.read_bytes())
    at = data.index(b"ispe")
    while at >= 0:
        data[at + 8 : at + 16] = (60_000).to_bytes(4, "big") * 2
        at = data.find(b"ispe", at + 16)
    return bytes(data)


BOMBS: dict[str, tuple[str, Callable[[], bytes]]] = {
    "x12 terminators": ("notice", lambda: isa().encode() + b"~" * MEGABYTE),
    "x12 levels in each other": ("notice", lambda: in_a_notice(*(f"HL*{n}*{n - 1}*P" for n in range(8, 60_000)))),
    "x12 ranges": ("notice", lambda: in_a_notice(
        *(part for n in range(10, 9_000) for part in (f"HL*{n}*1*P", f"MAN*GM*{sscc(1)}*{sscc(9_999)}")))),
    "edifact released ends": ("notice", lambda: b"UNA:+.? 'UNB+UNOC:3+A+B+260301:0800+1'" + b"?'" * (MEGABYTE // 2)),
    "edifact goods of any package": ("edifact", lambda: packages_and_free_goods(5_000)),
    "toml arrays": ("layout", lambda: b"a=" + b"[" * MEGABYTE),
    "toml inline tables": ("layout", lambda: b"a=" + b"{b=" * (MEGABYTE // 3)),
    "toml dots": ("layout", lambda: b".".join([b"a"] * 20_000) + b"=1"),
    "toml tables": ("layout", lambda: b"".join(b"[[bay]]\n" for _ in range(MEGABYTE // 8))),
    "toml digits": ("layout", lambda: b"[store]\nwalk_m=" + b"9" * MEGABYTE),
    "toml patterns": ("patterns", lambda: b"[[pattern]]\nname='a'\nregex='(?P<carton>(((a*)*)*)*)'\n" * 3_000),
    "a pattern of many repeats": (
        "patterns", lambda: b"[[pattern]]\nname='a'\nregex='(?P<carton>((a{1,100}){1,100}){1,100})'"),
    "heic of 3,600 megapixels": ("photo", larger_heic),
    "heic boxes in boxes": ("photo", lambda: HEIC.read_bytes()[:24] + b"\x00\x0f\x00\x00meta" * (MEGABYTE // 8)),
    "json in json": ("record", lambda: b'{"a":' * (MEGABYTE // 5)),
    "label of brackets": ("label_text", lambda: b"\x00" + b"(91)A" * 1_400),
    "scans of one id": (
        "scan_list", lambda: b'{"scan_id":"3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01","raw":"A"}\n' * 14_000),
    "table of quotes": ("table", lambda: b"shipment,store,carton,kind\n" + b'"' * MEGABYTE),
    "table of commas": ("table", lambda: b"shipment,store,carton,kind\n" + b"," * MEGABYTE),
}  # fmt: skip
TARGET_OF = {"notice": "x12"}

RUN = """
import resource, sys
from tests.fuzz.targets import TARGETS
target, limit = sys.argv[1], int(sys.argv[2])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
TARGETS[target].check(sys.stdin.buffer.read())
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_answered_in_seconds_and_little_memory(name: str) -> None:
    target, make = BOMBS[name]
    words = [sys.executable, "-c", RUN, TARGET_OF.get(target, target), str(MOST_CPU_S)]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(words, input=make(), capture_output=True, cwd=ROOT, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode == 0, done.stderr.decode(errors="replace")[-2000:]
    assert after.ru_utime - before.ru_utime < MOST_CPU_S
    assert int(done.stdout) < MOST_MB, f"{int(done.stdout)} MB more than before"
