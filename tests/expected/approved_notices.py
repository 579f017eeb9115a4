"""Notices, whole and broken, with all that was read of them as it was found right, so that nothing changes unnoticed.

Each notice is drawn from the segments that the directories allow (`test_random_notices`), and many are broken as they
are in the field: levels without a parent, trailers that count wrongly, a file that is cut off. What each gives is the
manifest as it is exported, then what the coordinator reads of it. Where a change is meant and better, look at the new
ones and keep them with ``python tests/expected/approved_notices.py``.
"""

import random
import re
import sys
from collections.abc import Iterator
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.errors import ManifestFaults
from receiving.expected import read_manifests, write_manifest_csv
from tests.expected.edi_messages import edifact, x12
from tests.expected.test_notice import ALLOWED, BUILDS, GROUPS, Filled

FOLDER = Path(__file__).with_name("approved")
NUMBER = 24


def _broken(rng: random.Random, segments: list[str], character: str) -> list[str]:
    """One of the faults of the field, in one segment."""
    at = rng.randrange(1, len(segments))
    parts = segments[at].split(character)
    match rng.randrange(6):
        case 0:
            del segments[at]
        case 1:
            segments.insert(at, segments[at])
        case 2:
            parts[rng.randrange(1, len(parts))] = ""
        case 3:
            parts[rng.randrange(1, len(parts))] = rng.choice(("0", "-1", "99", "x", "1.5", "  "))
        case 4:
            parts = parts[: rng.randrange(1, len(parts) + 1)]
        case _:
            segments[at - 1], segments[at] = segments[at], segments[at - 1]
            return segments
    if at < len(segments) and len(parts) > 1:
        segments[at] = character.join(parts)
    return segments


def _levels(rng: random.Random) -> Iterator[str]:
    """HL loops of one build, each with some of what it may hold; some levels name no parent, or one that is not."""
    fill, build, number = Filled(), rng.choice(BUILDS), iter(range(1, 100))

    def level(depth: int, above: str) -> Iterator[str]:
        own = str(next(number))
        named = above if rng.random() < 0.8 else rng.choice(("", "77"))
        yield f"HL*{own}*{named}*{build[depth]}"
        yield from map(fill, rng.choices(ALLOWED[build[depth]], k=rng.randint(0, 4)))
        if depth + 1 < len(build):
            for _ in range(rng.randint(1, 2)):
                yield from level(depth + 1, own)

    yield from level(0, "")


def ship_notice(rng: random.Random) -> bytes:
    """An X12 856, and now and then a second one, with up to two faults each."""
    sets = []
    for _ in range(rng.choice((1, 1, 2))):
        segments = [f"BSN*{rng.choice(('00', '00', '00', '05', '01'))}*WAVE*20260301*0800*0001", *_levels(rng)]
        segments.append(f"CTT*{sum(each.startswith('HL') for each in segments)}*{rng.randint(1, 20)}")
        for _ in range(rng.randint(0, 2)):
            segments = _broken(rng, segments, "*")
        sets.append(segments)
    text = x12(*sets, terminator=rng.choice("~~'"), element="*").decode()
    return _cut_or_miscounted(rng, text, r"(SE|GE|IEA)\*\d+", r"\g<1>*9").encode()


def despatch_advice(rng: random.Random) -> bytes:
    """A DESADV with one to four packing levels and up to two faults."""
    fill, segments = Filled(), ["BGM+351+WAVE+9"]
    segments += map(fill, rng.choices(GROUPS["head"], k=4))
    for number in range(1, rng.randint(2, 5)):
        above = rng.randint(0, number - 1)
        segments.append(f"CPS+{number}+{above}" if above else f"CPS+{number}")
        segments += map(fill, rng.choices(GROUPS["pack"], k=rng.randint(1, 5)))
        segments += map(fill, rng.choices(GROUPS["line"], k=rng.randint(1, 5)))
    for _ in range(rng.randint(0, 2)):
        segments = _broken(rng, segments, "+")
    una = rng.choice(("UNA:+.? '", "UNA:+,? '", "UNA:+.?'", ""))
    return _cut_or_miscounted(rng, edifact(segments, una=una), r"(UNT|UNZ)\+\d+", r"\g<1>+9").encode()


def _cut_or_miscounted(rng: random.Random, text: str, trailer: str, wrong: str) -> str:
    match rng.randrange(6):
        case 0:
            return text[: rng.randrange(len(text) // 2, len(text))]
        case 1:
            found = rng.choice(list(re.finditer(trailer, text)))
            return text[: found.start()] + re.sub(trailer, wrong, found[0]) + text[found.end() :]
        case 2:
            return text.replace("\n", "", 3) + "\n \x1a"
    return text


KINDS = {"856": ship_notice, "desadv": despatch_advice}
CASES = {f"{kind}-{n:02}": (made, n) for kind, made in KINDS.items() for n in range(NUMBER)}


def approved(name: str) -> str:
    """The notice, and all that was read of it."""
    made, seed = CASES[name]
    data = made(random.Random(seed))
    return f"{data.decode()}\n----\n" + "\n".join(_found(data)) + "\n"


def _found(data: bytes) -> Iterator[str]:
    try:
        found = read_manifests("notice", data)
    except ManifestFaults as refused:
        yield from (f"refused: {fault}" for fault in refused.faults)
        yield f"next step: {refused.next_step}"
        return
    for manifest in found:
        yield f"shipment {manifest.shipment} to store {manifest.store}"
        yield from (f"reference {name}: {value}" for name, value in manifest.references)
        yield from write_manifest_csv([manifest]).splitlines()
    yield from (f"warning: {each}" for each in found.warnings)
    yield from (f"not understood: {each}" for each in found.not_understood)
    yield from (f"not used: {each.words}" for each in found.unused)
    yield f"values used {found.used}, listed {found.listed}"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for case in CASES:
        (FOLDER / f"{case}.txt").write_text(approved(case), encoding="utf-8", newline="\n")
