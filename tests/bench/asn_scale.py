"""A 100,000-carton X12 856 and DESADV for 5,000 stores: time against a plain split and an open tokenizer, and memory.

Run: ``PYTHONPATH=. python tests/bench/asn_scale.py [--cartons 100000] [--stores 5000]``. Each figure is taken in a
process of its own, on the same file; times are CPU seconds, so that other work on the machine does not count.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from receiving.model import mod10_check_digit

ITEMS = 240


def sscc(serial: int) -> str:
    body = f"19521234{serial:09d}"
    return body + mod10_check_digit(body)


def x12(cartons: int, stores: int, *, transactions: bool) -> Iterator[str]:
    """S/O/P/I; one transaction for all stores, or one for each store."""
    yield f"ISA*00*{'':10}*00*{'':10}*ZZ*{'SHIPPER':15}*ZZ*{'FIELD':15}*260301*0800*U*00401*000000001*0*P*>~\n"
    yield "GS*SH*SHIPPER*FIELD*20260301*0800*1*X*004010~\n"
    per_store = cartons // stores
    serial = 0
    for transaction in range(stores if transactions else 1):
        lines, levels, units = [f"BSN*00*W{transaction}*20260301*0800*0001", "HL*1**S", "REF*BM*B1"], 1, 0
        for store in [transaction] if transactions else range(stores):
            levels += 1
            order = levels
            lines += [f"HL*{order}*1*O", f"PRF*PO{store}", f"N1*BY**92*{store:05d}"]
            for _ in range(per_store):
                levels += 2
                units += 2
                serial += 1
                lines += [f"HL*{levels - 1}*{order}*P", f"MAN*GM*00{sscc(serial)}", "PO4*1*****4.5*KG"]
                item = f"I{serial % ITEMS:04d}"
                lines += [f"HL*{levels}*{levels - 1}*I", f"LIN**VN*{item}", "SN1**2*EA", "PID*F****A tray of samples"]
        lines.append(f"CTT*{levels}*{units}")
        yield (
            f"ST*856*{transaction + 1:04d}~\n" + "~\n".join(lines) + f"~\nSE*{len(lines) + 2}*{transaction + 1:04d}~\n"
        )
    yield f"GE*{stores if transactions else 1}*1~\nIEA*1*000000001~\n"


def desadv(cartons: int, stores: int) -> Iterator[str]:
    """A message for each store."""
    yield "UNA:+.? '\nUNB+UNOC:3+SHIPPER:14+FIELD:14+260301:0800+1'\n"
    per_store, serial = cartons // stores, 0
    for store in range(stores):
        lines = [f"UNH+{store}+DESADV:D:01B:UN:EAN007", f"BGM+351+W{store}+9", f"NAD+DP+{store:05d}::92", "CPS+1"]
        for n in range(per_store):
            serial += 1
            lines += [f"CPS+{n + 2}+1", "PAC+1++CT", "MEA+PD+AAB+KGM:4.5", "PCI+33E", f"GIN+BJ+{sscc(serial)}"]
            lines += [f"LIN+{n + 1}", f"PIA+5+I{serial % ITEMS:04d}:SA", "IMD+F++:::A tray of samples", "QTY+12:2"]
        lines.append(f"CNT+2:{per_store}")
        yield "'\n".join(lines) + f"'\nUNT+{len(lines) + 1}+{store}'\n"
    yield f"UNZ+{stores}+1'\n"


def tokenize(path: Path) -> str:
    if path.suffix == ".x12":
        from pyx12.x12file import X12Reader

        with path.open(encoding="ascii") as file:
            return f"{sum(1 for _ in X12Reader(file)):,} segments"
    from pydifact.parser import Parser
    from pydifact.tokenizer import Tokenizer

    text = path.read_text(encoding="utf-8").split("\n", 1)[1]
    tokens = Tokenizer().get_tokens(text)
    count, segments = 0, Parser().convert_tokens_to_raw_segments(tokens)
    for _ in segments:
        count += 1
    return f"{count:,} segments"


def split(path: Path) -> str:
    """The least that any reader does: cut the text at every terminator and separator."""
    text = path.read_text(encoding="utf-8")
    end, element = ("~", "*") if path.suffix == ".x12" else ("'", "+")
    segments = [segment.strip().split(element) for segment in text.split(end)]
    return f"{len(segments):,} segments"


def load(path: Path) -> str:
    from receiving.expected import stream_manifests

    reports = 0

    def progress(_: object) -> None:
        nonlocal reports
        reports += 1

    with path.open("rb") as file:
        stream = stream_manifests(path.name, file, progress=progress)
        manifests = cartons = 0
        for manifest in stream:
            manifests += 1
            cartons += len(manifest.cartons)
    left = f"{len(stream.warnings)} warnings, {len(stream.not_understood)} not understood"
    summary = f"{left}, progress reported {reports:,} times"
    return f"{cartons:,} cartons in {manifests:,} manifests, {summary}"


def measured(job: str, path: Path) -> tuple[float, float]:
    """CPU seconds and peak memory in MB of one job in a process of its own."""
    done = subprocess.run(
        [sys.executable, __file__, "--job", job, str(path)], check=True, capture_output=True, text=True
    )
    seconds, megabytes, words = done.stdout.strip().split("|")
    print(f"  {job:9} {float(seconds):6.2f} s CPU, peak {float(megabytes):5.0f} MB   {words}")
    return float(seconds), float(megabytes)


def run_job(job: str, path: Path) -> None:
    started = time.process_time()
    words = {"split": split, "tokenizer": tokenize, "receiving": load}[job](path)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{time.process_time() - started}|{peak}|{words}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cartons", type=int, default=100_000)
    parser.add_argument("--stores", type=int, default=5_000)
    parser.add_argument("--job", nargs=2, metavar=("JOB", "FILE"))
    asked = parser.parse_args()
    if asked.job:
        run_job(asked.job[0], Path(asked.job[1]))
        return
    with tempfile.TemporaryDirectory() as folder:
        for name, text in (
            ("one transaction for all stores.x12", x12(asked.cartons, asked.stores, transactions=False)),
            ("a transaction for each store.x12", x12(asked.cartons, asked.stores, transactions=True)),
            ("a message for each store.edi", desadv(asked.cartons, asked.stores)),
        ):
            path = Path(folder, name)
            with path.open("w", encoding="utf-8", newline="") as file:
                file.writelines(text)
            print(f"{name}: {path.stat().st_size / 1e6:.1f} MB")
            least, _ = measured("split", path)
            alone, _ = measured("tokenizer", path)
            ours, _ = measured("receiving", path)
            print(f"  receiving: {ours / least:.2f} x a plain split, {ours / alone:.2f} x the open tokenizer")


if __name__ == "__main__":
    main()
