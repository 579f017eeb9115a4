"""How reading grows with the file: hostile and long inputs at three sizes, each twice the one before.

Run: ``python tests/bench/expected_growth.py``. A ratio near 2 is linear, near 4 is quadratic; the exit status is 1
when one is above 3. Times are CPU seconds; the sizes are chosen so that they stand well above the clock's noise.
"""

import io
import sys
import time
from collections.abc import Callable

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

Case = tuple[str, int, Callable[[int], bytes], Callable[[str, bytes], object]]
CASES: tuple[Case, ...] = (
    ("CSV, good rows", 10_000, lambda n: rows(n, lambda i: f"S,1,c{i},tray,{sscc(i)},,,no,H,1,1,A,1"), read_manifests),
    ("CSV, one carton on all rows", 10_000, lambda n: rows(n, lambda i: "S,1,c,tray,,,,no,H,1,1,A,1"), read_manifests),
    ("CSV, a fault in every cell", 5_000, lambda n: rows(n, lambda i: "S,1,c,x,y,,z,n,H,0,-,A,q"), read_manifests),
    ("CSV, outer in outer in outer", 10_000, lambda n: rows(n, lambda i: f"S,1,{i},outer,,,{i + 1},,,,,,"), read_manifests),
    ("CSV, an open quote", 200_000, lambda n: HEADER + b'S,1,"' + b"a\n" * n, read_manifests),
    ("CSV, stray quotes", 50_000, lambda n: HEADER + b'"a"b,\n' * n, read_manifests),
    ("CSV, unknown columns", 20_000, lambda n: b",".join(b"shipmemt%d" % i for i in range(n)), read_manifests),
    ("XLSX, good rows", 3_000, xlsx, read_manifests),
    ("X12, levels in levels", 10_000, lambda n: START + b"".join(b"HL*%d*%d*P~" % (i + 2, i + 1) for i in range(n)), read_manifests),
    ("X12, goods in one pack", 20_000, lambda n: START + b"HL*2*1*P~" + b"LIN**VN*A~SN1**1*EA~" * n, read_manifests),
    ("X12, marks on one pack", 20_000, lambda n: START + b"HL*2*1*P~" + b"MAN*GM*1~" * n, read_manifests),
    ("X12, orders over packs", 20_000, lambda n: START + b"PRF*A~" * n + b"HL*2*1*P~" * n, read_manifests),
    ("X12, long segment", 400_000, lambda n: START + b"A" * n, read_manifests),
    ("X12, empty segments", 400_000, lambda n: START + b"~" * n, read_manifests),
    ("X12, interchanges", 500, lambda n: (START + b"SE*4*0001~GE*1*1~IEA*1*000000001~") * n, read_manifests),
    ("X12, stray trailers", 20_000, lambda n: START + b"SE~GE~IEA~" * n, read_manifests),
    ("DESADV, levels in levels", 5_000, lambda n: UNB + b"".join(b"CPS+%d+%d'" % (i + 1, i) for i in range(n)), read_manifests),
    ("DESADV, numbers times goods", 2_000, lambda n: UNB + b"CPS+1'" + b"PAC+1'GIN+BJ+1'" * n + b"LIN+1++A'QTY+12:1'" * n, read_manifests),
    ("DESADV, places of delivery", 5_000, lambda n: UNB + b"CPS+1'" + b"".join(b"LOC+7+%d'CPS+%d+1'PAC+1'GIN+BJ+1'" % (i, i + 2) for i in range(n)), read_manifests),
    ("DESADV, line breaks", 400_000, lambda n: UNB + b"FTX+" + b"\n" * n + b"'", read_manifests),
    ("DESADV, release characters", 200_000, lambda n: UNB + b"FTX+" + b"?\n" * n, read_manifests),
    ("DESADV, service advice again", 20_000, lambda n: UNB + b"UNA:+.? '" * n, read_manifests),
    ("layout, bays", 100, lambda n: LAYOUT_HEAD + "".join(BAY.format(i + 1) for i in range(n)).encode(), read_layout),
    ("layout, unknown keys", 4_000, lambda n: b"[store]\n" + b"".join(b"walk%d=1\n" % i for i in range(n)), read_layout),
    ("layout, dotted key", 2_000, lambda n: b"a." * n + b"a=1", read_layout),
    ("layout, open brackets", 20_000, lambda n: b"a=" + b"[" * n, read_layout),
    ("kit, rows", 10_000, lambda n: b"item,section,column,row\n" + b"A,H,1,1\n" * n, read_kit),
)  # fmt: skip
LAYOUT_HEAD = (
    b"[store]\nid='1'\nwalk_m=1\n[cart]\nmax_load_kg=1\ndeck_length_cm=1\ndeck_width_cm=1\nstack_height_cm=1\n"
)


def seconds(read: Callable[[str, bytes], object], data: bytes) -> float:
    """CPU seconds of the better of two readings; a refusal by faults is a reading too."""
    best = float("inf")
    for _ in range(2):
        started = time.process_time()
        try:
            read("growth", data)
        except FileFaults:
            pass
        best = min(best, time.process_time() - started)
    return best


def main() -> int:
    steepest = 0.0
    for name, n, make, read in CASES:
        times = [seconds(read, make(n * size)) for size in (1, 2, 4)]
        ratios = [later / max(earlier, 1e-3) for earlier, later in zip(times, times[1:], strict=False)]
        steepest = max(steepest, ratios[-1] if times[-1] > 0.05 else 0.0)
        print(f"{name:30} {n:>8,} to {4 * n:>9,}: {times[-1]:6.2f} s, growth {ratios[0]:4.1f} and {ratios[1]:4.1f}")
    print(f"steepest growth when the file doubles: {steepest:.1f}")
    return int(steepest > 3)


if __name__ == "__main__":
    sys.exit(main())
