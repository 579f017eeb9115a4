"""How reading grows with the file: hostile and long inputs at three sizes, each twice the one before.

Run: ``python tests/bench/expected_growth.py``. A ratio near 2 is linear, near 4 is quadratic; the exit status is 1
when one is above 3. Times are CPU seconds; the sizes are chosen so that they stand well above the clock's noise.
"""

import contextlib
import io
import sys
import time
from collections.abc import Callable
from itertools import pairwise

from receiving.errors import FileFaults
from receiving.expected import read_kit, read_layout, read_manifests
from receiving.model import mod10_check_digit

HEADER = b"shipment,store,carton,kind,sscc,barcode,outer,open_first,section,column,row,item,qty\n"
ISA = b"ISA*00*          *00*          *ZZ*S              *ZZ*R              *260301*0800*U*00401*000000001*0*P*>~"
START = ISA + b"GS*SH*S*R*20260301*0800*1*X*004010~ST*856*0001~BSN*00*W*20260301*0800~HL*1**S~"
UNB = b"UNA:+.? 'UNB+UNOC:3+S+R+260301:0800+1'UNH+1+DESADV:D:01B:UN'BGM+351+W+9'"


def sscc(serial: int) -> str:
    return (body := f"19520000{serial:09d}") + mod10_check_digit(body)


def rows(n: int, row: Callable[[int], str]) -> bytes:
    return HEADER + "".join(row(i) + "\n" for i in range(n)).encode()


def xlsx(n: int) -> bytes:
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append(["shipment", "store", "carton", "kind"])
    for i in range(n):
        sheet.append(["S", "1", f"c{i}", "tray"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


BAY = "[[bay]]\nid='{0}'\nsection='H'\ncolumns=[{0}]\nwidth_cm=1\nstaging_length_cm=1\nstaging_depth_cm=1\norder={0}\n"

LAYOUT_HEAD = (
    b"[store]\nid='1'\nwalk_m=1\n[cart]\nmax_load_kg=1\ndeck_length_cm=1\ndeck_width_cm=1\nstack_height_cm=1\n"
)


def numbered(pattern: str, n: int, start: bytes = b"") -> bytes:
    """``start`` and then ``pattern`` for 1 to n, with {i} the number and {j} the one before."""
    return start + "".join(pattern.format(i=i, j=i - 1) for i in range(1, n + 1)).encode()


PACK = START + b"HL*2*1*P~"
LEVEL = UNB + b"CPS+1'"
TRAILERS = b"SE*4*0001~GE*1*1~IEA*1*000000001~"
ONE_PACK = "PAC+1'GIN+BJ+1'"

Case = tuple[str, int, Callable[[int], bytes]]
MANIFESTS: tuple[Case, ...] = (
    ("CSV, good rows", 5_000, lambda n: rows(n, lambda i: f"S,1,c{i},tray,{sscc(i)},,,no,H,1,1,A,1")),
    ("CSV, one carton on all rows", 5_000, lambda n: rows(n, lambda i: "S,1,c,tray,,,,no,H,1,1,A,1")),
    ("CSV, a fault in every cell", 2_000, lambda n: rows(n, lambda i: "S,1,c,x,y,,z,n,H,0,-,A,q")),
    ("CSV, outer in outer in outer", 5_000, lambda n: rows(n, lambda i: f"S,1,{i},outer,,,{i + 1},,,,,,")),
    ("CSV, an open quote", 50_000, lambda n: HEADER + b'S,1,"' + b"a\n" * n),
    ("CSV, stray quotes", 50_000, lambda n: HEADER + b'"a"b,\n' * n),
    ("CSV, unknown columns", 40_000, lambda n: b",".join(b"shipmemt%d" % i for i in range(n))),
    ("XLSX, good rows", 1_500, xlsx),
    ("X12, levels in levels", 5_000, lambda n: numbered("HL*{i}*{j}*P~", n, START)),
    ("X12, goods in one pack", 10_000, lambda n: PACK + b"LIN**VN*A~SN1**1*EA~" * n),
    ("X12, marks on one pack", 10_000, lambda n: PACK + b"MAN*GM*1~" * n),
    ("X12, orders over packs", 5_000, lambda n: START + b"PRF*A~" * n + b"HL*2*1*P~" * n),
    ("X12, long segment", 200_000, lambda n: START + b"A" * n),
    ("X12, empty segments", 400_000, lambda n: START + b"~" * n),
    ("X12, interchanges", 400, lambda n: (START + TRAILERS) * n),
    ("X12, stray trailers", 5_000, lambda n: START + b"SE~GE~IEA~" * n),
    ("DESADV, levels in levels", 4_000, lambda n: numbered("CPS+{i}+{j}'", n, UNB)),
    ("DESADV, numbers times goods", 2_000, lambda n: LEVEL + b"PAC+1'GIN+BJ+1'" * n + b"LIN+1++A'QTY+12:1'" * n),
    ("DESADV, places of delivery", 2_000, lambda n: numbered("LOC+7+{i}'CPS+{i}+1'" + ONE_PACK, n, LEVEL)),
    ("DESADV, line breaks", 200_000, lambda n: UNB + b"FTX+" + b"\n" * n + b"'"),
    ("DESADV, release characters", 100_000, lambda n: UNB + b"FTX+" + b"?\n" * n),
    ("DESADV, service advice again", 10_000, lambda n: UNB + b"UNA:+.? '" * n),
)
LAYOUTS: tuple[Case, ...] = (
    ("layout, bays", 100, lambda n: LAYOUT_HEAD + "".join(BAY.format(i + 1) for i in range(n)).encode()),
    ("layout, unknown keys", 3_000, lambda n: b"[store]\n" + b"".join(b"walk%d=1\n" % i for i in range(n))),
    ("layout, dotted key", 20_000, lambda n: b"a." * n + b"a=1"),
    ("layout, open brackets", 20_000, lambda n: b"a=" + b"[" * n),
)
KITS: tuple[Case, ...] = (("kit, rows", 5_000, lambda n: b"item,section,column,row\n" + b"A,H,1,1\n" * n),)


def seconds(read: Callable[[str, bytes], object], data: bytes) -> float:
    """CPU seconds of the better of two readings; a refusal by faults is a reading too."""
    best = float("inf")
    for _ in range(2):
        started = time.process_time()
        with contextlib.suppress(FileFaults):
            read("growth", data)
        best = min(best, time.process_time() - started)
    return best


def main() -> int:
    steepest = 0.0
    readers = ((read_manifests, MANIFESTS), (read_layout, LAYOUTS), (read_kit, KITS))
    cases = [(read, case) for read, of_reader in readers for case in of_reader]
    for read, (name, n, make) in cases:
        times = [seconds(read, make(n * size)) for size in (1, 2, 4)]
        ratios = [later / max(earlier, 1e-3) for earlier, later in pairwise(times)]
        steepest = max(steepest, ratios[-1] if times[-1] > 0.05 else 0.0)
        print(f"{name:30} {n:>8,} to {4 * n:>9,}: {times[-1]:6.2f} s, growth {ratios[0]:4.1f} and {ratios[1]:4.1f}")
    print(f"steepest growth when the file doubles: {steepest:.1f}")
    return int(steepest > 3)


if __name__ == "__main__":
    sys.exit(main())
