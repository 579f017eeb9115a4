"""A workbook that was damaged on its way is read or refused in our own words, whatever happened to it."""

import io
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from receiving.errors import ManifestFaults
from receiving.expected import read_manifests
from tests.expected.test_manifest_xlsx import HEADER, workbook

WHOLE = workbook([HEADER, ["S-1", "0417", "01", "tray", "395200000000000012", "Harbor", 1, 2, "no", 3, "2026-03-09"]])
PARTS = {name: zipfile.ZipFile(io.BytesIO(WHOLE)).read(name) for name in zipfile.ZipFile(io.BytesIO(WHOLE)).namelist()}


def read_or_refused(data: bytes) -> None:
    try:
        read_manifests("manifest.xlsx", data)
    except ManifestFaults as refused:
        assert refused.faults


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.integers(0, len(WHOLE) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_bytes_changed_anywhere_in_the_file(changes: list[tuple[int, int]]) -> None:
    data = bytearray(WHOLE)
    for place, value in changes:
        data[place] = value
    read_or_refused(bytes(data))


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(PARTS)), st.integers(0, 4000), st.binary(max_size=12), st.integers(0, 40))
def test_a_part_inside_the_workbook_changed_or_cut(name: str, place: int, put: bytes, taken: int) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        for part, data in PARTS.items():
            at = min(place, len(data))
            book.writestr(part, data[:at] + put + data[at + taken :] if part == name else data)
    read_or_refused(out.getvalue())


@settings(max_examples=30, deadline=None)
@given(st.integers(0, len(WHOLE)))
def test_a_workbook_cut_off_anywhere(length: int) -> None:
    read_or_refused(WHOLE[:length])


def test_a_workbook_of_too_many_parts_or_too_large_unpacked_is_refused_before_it_is_unpacked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """OWASP ASVS 5.0, V5.2.3."""

    def unpack(*_: object) -> None:
        raise AssertionError("it was unpacked")

    files = {}
    for name, more in (
        ("many", {f"xl/x{n}.xml": b"" for n in range(5_000)}),
        ("large", {"xl/x.xml": b" " * 60_000_001}),
    ):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
            for part, data in {**PARTS, **more}.items():
                book.writestr(part, data)
        files[name] = out.getvalue()
    monkeypatch.setattr(zipfile.ZipFile, "open", unpack)
    for name, fault in (("many", "files inside; at most 5,000 are read"), ("large", "60,000,000 of a part")):
        with pytest.raises(ManifestFaults) as refused:
            read_manifests("m.xlsx", files[name])
        assert fault in str(refused.value)
