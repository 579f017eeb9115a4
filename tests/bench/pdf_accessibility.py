"""The receipt's PDF under an open checker of PDF/UA-1 (ISO 14289-1) that is not part of this project.

    pip install outloud
    python tests/bench/pdf_accessibility.py

Four receipts, on A4 and Letter, with and without exceptions, one over several pages. The run ends with status 1 where
an error is found. Not covered by it or by any test here: whether words and alternative texts are good ones, which a
person must judge; veraPDF, the reference checker, needs a Java environment and is not asked. It warns that two columns
are drawn row by row and read column by column, which is meant.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving.closing import receipt_pdf, show_receipt  # noqa: E402
from receiving.model import Receipt  # noqa: E402
from tests.closing.test_receipt import MANIFEST, NOW, TROUBLED, receipt_of  # noqa: E402


def main() -> int:
    program = shutil.which("outloud")
    if program is None:
        print("outloud is not installed: pip install outloud")
        return 1
    troubled = Receipt(2, NOW, "Ida Berg", "Manager", "Wet & torn", True, show_receipt(TROUBLED, MANIFEST, 1))
    made = {
        "whole": receipt_pdf(receipt_of("Łukasz Żak")),
        "letter": receipt_pdf(receipt_of("Мария Петрова", remarks="A long remark. " * 12), paper="Letter"),
        "long": receipt_pdf(receipt_of("Ida Berg", count=120)),
        "troubled": receipt_pdf(troubled),
    }
    with tempfile.TemporaryDirectory() as folder:
        for name, data in made.items():
            Path(folder, f"{name}.pdf").write_bytes(data)
        return subprocess.run([program, *(f"{name}.pdf" for name in made)], cwd=folder, check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
