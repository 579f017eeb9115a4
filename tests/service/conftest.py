"""A context with a clock that stands still, ids that count, and a reader that gives what the test says."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from io import BytesIO
from itertools import count
from pathlib import Path

import pytest
from PIL import Image

from receiving import service
from tests.planned_reader import PlannedReader

MANIFEST = """\
shipment,store,carton,sscc,kind,section,column,row,open_first,item,qty,weight_kg,dispatch_date
S-1,0417,01,,instructions,,,,yes,,,1,2026-03-09
S-1,0417,02,395200000000000012,tray,Harbor,1,1,no,T-1,1,6,2026-03-09
S-1,0417,03,395200000000000029,tray,Harbor,2,1,no,T-2,1,6,2026-03-09
S-2,0422,09,395200000000000036,tray,Harbor,1,1,no,T-1,1,6,2026-03-20
"""

LAYOUT = """\
[store]
id = "0417"
walk_m = 60
[cart]
max_load_kg = 110
deck_length_cm = 120
deck_width_cm = 60
stack_height_cm = 100
[[bay]]
id = "B1"
section = "Harbor"
columns = [1, 2]
width_cm = 122
staging_length_cm = 122
staging_depth_cm = 60
order = 1
"""


@pytest.fixture
def reader() -> PlannedReader:
    reader = PlannedReader()
    reader.frame = picture()
    return reader


@pytest.fixture
def ctx(tmp_path: Path, reader: PlannedReader) -> Iterator[service.Context]:
    numbers, minutes = count(1), count()
    with service.Context(
        tmp_path,
        reader,
        now=lambda: datetime(2026, 3, 2, 9, 0, tzinfo=UTC) + timedelta(minutes=next(minutes)),
        new_id=lambda: f"00000000-0000-4000-8000-{next(numbers):012d}",
    ) as ctx:
        service.import_manifest(ctx, "manifest.csv", MANIFEST.encode())
        service.import_layout(ctx, "layout.toml", LAYOUT.encode())
        yield ctx


class Clock:
    """A clock that a test sets."""

    now = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

    def forward(self, by: timedelta) -> None:
        self.now += by


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def timed(tmp_path: Path, clock: Clock) -> Iterator[service.Context]:
    """A context with the manifest, in which it is as late as `clock` says."""
    with service.Context(tmp_path, PlannedReader(), now=lambda: clock.now) as ctx:
        service.import_manifest(ctx, "manifest.csv", MANIFEST.encode())
        yield ctx


def picture(colour: str = "white") -> bytes:
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "PNG")
    return out.getvalue()
