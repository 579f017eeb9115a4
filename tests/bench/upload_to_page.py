"""From sending a 12-megapixel photo of a pile to its labels on the page, beside decoding it alone.

The real server runs in a process of its own; the photo is sent as a phone's browser sends it, and the shipment's live
part is asked for until it shows the photo as read. Each run sends a photo that differs in one byte, so none is known.

usage: python tests/bench/upload_to_page.py [RUNS]
"""

import http.cookiejar
import io
import re
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from pathlib import Path
from statistics import median

from PIL import Image

from receiving.expected import read_manifests
from receiving.reading import expected_codes, read_photo

PROJECT = Path(__file__).resolve().parent.parent.parent
SAMPLES = PROJECT / "sample_images"
WIDTH_PX, HEIGHT_PX = 4000, 3000
POLL_S = 0.05


def twelve_megapixels(photo: Path, number: int) -> bytes:
    """The sample photo at the size of a phone's camera, with a comment that makes each copy another file."""
    out = io.BytesIO()
    Image.open(photo).convert("RGB").resize((WIDTH_PX, HEIGHT_PX)).save(out, "JPEG", quality=85, comment=str(number))
    return out.getvalue()


class Browser:
    """Enough of a browser: cookies, the form's token, a file upload."""

    def __init__(self, address: str) -> None:
        self.address = address
        jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self._opener = urllib.request.build_opener(jar)

    def get(self, path: str) -> str:
        with self._opener.open(self.address + path, timeout=120) as answer:
            return str(answer.read().decode())

    def send_photo(self, path: str, data: bytes) -> None:
        token = re.search(r'name="token" value="([^"]+)"', self.get(path))
        assert token, "the page has no form token"
        edge = uuid.uuid4().hex
        parts = {"token": token[1].encode(), "place": b"back_room"}
        body = b"".join(
            b'--%b\r\nContent-Disposition: form-data; name="%b"\r\n\r\n%b\r\n' % (edge.encode(), name.encode(), value)
            for name, value in parts.items()
        )
        body += b'--%b\r\nContent-Disposition: form-data; name="photos"; filename="pile.jpg"\r\n' % edge.encode()
        body += b"Content-Type: image/jpeg\r\n\r\n" + data + b"\r\n--" + edge.encode() + b"--\r\n"
        request = urllib.request.Request(
            f"{self.address}{path}/photos", body, {"Content-Type": f"multipart/form-data; boundary={edge}"}
        )
        with self._opener.open(request, timeout=120) as answer:
            answer.read()


def photos_read(page: str) -> int:
    """How many photos the page shows as done: those whose state is not the turning sign."""
    return page.count('class="status ') - page.count('class="spin"')


def to_page_s(browser: Browser, shipment: str, data: bytes, read_before: int) -> float:
    """Seconds from sending until the page shows one more photo as read."""
    start = time.perf_counter()
    browser.send_photo(f"/s/{shipment}", data)
    while photos_read(browser.get(f"/s/{shipment}/live")) <= read_before:
        if time.perf_counter() - start > 300:
            raise SystemExit("the photo did not show up on the page within 300 s")
        time.sleep(POLL_S)
    return time.perf_counter() - start


def decoding_s(data: bytes) -> float:
    expected = expected_codes(read_manifests("manifest.csv", (SAMPLES / "manifest.csv").read_bytes()).manifests)
    start = time.perf_counter()
    read_photo("pile.jpg", data, expected=expected)
    return time.perf_counter() - start


def main(runs: int) -> None:
    manifest = read_manifests("manifest.csv", (SAMPLES / "manifest.csv").read_bytes()).manifests[0]
    pile = max(SAMPLES.glob("*.jpg"), key=lambda path: path.stat().st_size)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "receiving"]
        subprocess.run([*command, "import", str(SAMPLES / "manifest.csv"), "--data", folder], cwd=PROJECT, check=True)
        server = subprocess.Popen(
            [*command, "serve", "--data", folder, "--port", "0"], cwd=PROJECT, stdout=subprocess.PIPE, text=True
        )
        try:
            browser = Browser(address_of(server))
            pairs = []
            for number in range(runs + 1):
                data = twelve_megapixels(pile, number)
                pairs.append((to_page_s(browser, manifest.shipment, data, number), decoding_s(data)))
        finally:
            server.terminate()
            server.wait()
    shown, alone = (median(column) for column in zip(*pairs[1:], strict=True))  # the first run starts the reader
    print(f"{pile.name} at {WIDTH_PX} x {HEIGHT_PX}, median of {runs} runs after one warm-up")
    print(f"upload to page   {shown:.2f} s")
    print(f"decoding alone   {alone:.2f} s")
    print(f"ratio            {median(a / b for a, b in pairs[1:]):.2f}")


def address_of(server: "subprocess.Popen[str]") -> str:
    assert server.stdout is not None
    for line in server.stdout:
        if found := re.search(r"http://\S+?(?=/ )", line):
            return found[0]
    raise SystemExit("the server did not start")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
