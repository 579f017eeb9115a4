"""A phone whose storage is full in truth: the browser's profile lies on a small file system of its own.

Chromium's `Storage.overrideQuotaForOrigin` (Chrome DevTools Protocol) does not hold for IndexedDB: with a quota of 3 MB
set by it, 8 MB were stored. A file system of 40 MB gives the origin a quota of 24 MB, which holds.
"""

import base64
import shutil
import subprocess
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from receiving import service
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from tests.web.browser.test_outbox import reads, sent
from tests.web.browser.test_phone import eventually, wedge
from tests.web.scenario import SHIPMENT, sscc

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
FILL = """async (picture) => {
  const script = document.querySelector("script[src*='app.js']").src.replace("app.js", "outbox.js");
  const { outbox } = await import(script);
  const bytes = Uint8Array.from(atob(picture), (c) => c.charCodeAt(0));
  for (let n = 0; n < 60; n++) {
    const blob = new Blob([bytes, `no ${n}`], { type: "image/jpeg" });
    const record = { kind: "photo", url: "/s/S-2041~2FA/photos", fields: [], shipment: "S-2041/A", large: true };
    try {
      await outbox.add({ ...record, files: [{ field: "photos", name: `pile ${n}.jpg`, blob }] });
    } catch (fault) { return [n, fault.name]; }
  }
  return [60, ""];
}"""


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "small"
    folder.mkdir()
    mount = shutil.which("mount")
    if (
        not mount
        or subprocess.run([mount, "-t", "tmpfs", "-o", "size=40m", "tmpfs", folder], capture_output=True).returncode
    ):
        pytest.skip("a small file system can be mounted by root alone")
    yield folder
    subprocess.run(["umount", "-l", folder], check=True)


def noise(megabytes: float) -> bytes:
    side = int((megabytes * 1_000_000 / 1.1) ** 0.5)
    file = BytesIO()
    pixels = np.random.default_rng(7).integers(0, 256, (side, side), dtype=np.uint8)
    Image.fromarray(pixels).save(file, "JPEG", quality=95)
    return file.getvalue()


def test_what_is_stored_on_a_full_phone_is_sent_and_what_is_not_is_told(chromium, served, small_disk: Path) -> None:
    address, ctx = served
    context = chromium.browser_type.launch_persistent_context(
        small_disk / "profile", executable_path=CHROMIUM, args=ARGUMENTS, viewport={"width": 360, "height": 740}
    )
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    context.set_default_timeout(120_000)
    phone = context.new_page()
    phone.goto(address + ADDRESS)
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.wait_for_load_state("networkidle")  # the page's shell is kept: nothing frees room or takes it from here on
    context.set_offline(True)
    picture = noise(1)
    stored, fault = phone.evaluate(FILL, base64.b64encode(picture).decode())
    assert fault == "QuotaExceededError"
    assert stored > 5
    phone.set_input_files("#shoot", {"name": "one more.jpg", "mimeType": "image/jpeg", "buffer": picture + b"more"})
    phone.locator("#answer", has_text="This phone is full").wait_for()
    phone.keyboard.press("Escape")
    phone.wait_for_selector(".answer", state="detached")
    wedge(phone, f"]C100{sscc(3)}")  # a scan is small: there may be room, and if not it must be told
    phone.locator("#answer").filter(has_text="Here · 03").or_(
        phone.locator("#answer", has_text="Not stored")
    ).wait_for()
    shown_here = "Here · 03" in phone.inner_text("#answer")
    context.set_offline(False)
    sent(phone)
    eventually(phone, lambda: len(service.get_shipment(ctx, SHIPMENT).photos) == stored)
    assert reads(ctx) == (1 if shown_here else 0)
    more = {"name": "one more.jpg", "mimeType": "image/jpeg", "buffer": picture + b"more"}
    phone.set_input_files("#shoot", more)  # still no room: the browser frees it in its own time, and there is a signal
    eventually(phone, lambda: len(service.get_shipment(ctx, SHIPMENT).photos) == stored + 1)
    context.close()
