"""The mutants that are said to change nothing are mutants of the code as it is: a stale one would hide a new one."""

import tomllib
from pathlib import Path

import pytest

from tests.bench.mutating import mutants_of

ROOT = Path(__file__).resolve().parents[1]
NAMED = tomllib.loads((ROOT / "tests/bench/equivalent_mutants.toml").read_text())["mutant"]


@pytest.mark.parametrize("path", sorted({each["file"] for each in NAMED}))
def test_each_equivalent_mutant_is_one_of_its_file_and_has_a_reason(path: str) -> None:
    source = (ROOT / path).read_bytes()
    there = {tuple(part.strip() for part in mutant.lines(source)) for mutant in mutants_of(path, source)}
    own = [each for each in NAMED if each["file"] == path]
    assert [each for each in own if (each["was"].strip(), each["now"].strip()) not in there] == []
    assert all(each["why"] for each in own)
