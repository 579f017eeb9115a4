"""What the phone's page costs: labels a second on the live camera, time to the tone, bytes of 20 scans, busy time.

    python tests/bench/phone_screen.py

Debian's Chromium, with a video of three labels (of our own printing) before its fake camera. The live page is compared
with the decoder alone in the same worker, in one run; the main thread's busy time is taken with the CPU slowed four
times, as a ratio to an empty page.
"""

import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from playwright.sync_api import sync_playwright  # noqa: E402

from receiving import service  # noqa: E402
from receiving.model import Manifest  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from tests.web.browser.label_video import pile_frame, write_y4m  # noqa: E402
from tests.web.scenario import SHIPMENT, open_context, sscc  # noqa: E402
from web.serve import make_server  # noqa: E402

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--use-fake-device-for-media-stream"]
ADDRESS = "/s/S-2041~2FA"
LABELS = ("01", "03", "04")
FILMED_S = 8

BARE = """async (seconds) => {
  const script = document.querySelector("script[src*='app.js']").src;
  const worker = new Worker(script.replace(/app\\.js.*/, "decoder.js"));
  const video = document.createElement("video");
  video.muted = true;
  video.srcObject = await navigator.mediaDevices.getUserMedia({ video: { width: { ideal: 1920 } } });
  await video.play();
  const canvas = document.createElement("canvas");
  Object.assign(canvas, { width: video.videoWidth, height: video.videoHeight });
  canvas.getContext("2d").drawImage(video, 0, 0);
  const picture = () => canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let frames = 0, labels = 0, until = 0;
  await new Promise((resolve) => {
    worker.onmessage = ({ data }) => {
      if (!until) until = performance.now() + seconds * 1000;
      else { frames += 1; labels += data.found.filter((each) => each.text).length; }
      if (performance.now() > until) resolve();
      else worker.postMessage({ picture: picture(), number: frames });
    };
    worker.postMessage({ picture: picture(), number: 0 });
  });
  worker.terminate();
  for (const track of video.srcObject.getTracks()) track.stop();
  return [canvas.width, canvas.height, frames / seconds, labels / seconds];
}"""


def camera(browser: object, address: str) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    context.grant_permissions(["camera"], origin=address)
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    with page.expect_response("**/sheet"):
        page.goto(address + ADDRESS)
    width, height, frames, labels = page.evaluate(BARE, FILMED_S)
    print(f"zxing-wasm alone at {width} x {height}: {frames:.1f} frames a second, {labels:.1f} codes a second")
    page.evaluate("window.heard = []; addEventListener('sounded', () => heard.push(performance.now()))")
    page.evaluate(
        "addEventListener('playing', () => { window.inView ??= performance.now(); }, { capture: true, once: true })"
    )
    page.click("#live-camera")
    page.locator("#camera-line", has_text="3 of 16 here").wait_for(timeout=60_000)
    before = int(page.get_attribute("#viewfinder", "data-frames"))
    time.sleep(FILMED_S)
    after = int(page.get_attribute("#viewfinder", "data-frames"))
    live = (after - before) / FILMED_S
    print(f"the live page: {live:.1f} frames a second, {live / frames:.2f} of the decoder alone")
    tones = page.evaluate("heard.map((at) => at - window.inView)")
    print(f"from the picture's first frame to the tones: {', '.join(f'{ms:.0f} ms' for ms in tones)}")
    context.close()


def bytes_of_scans(browser: object, address: str) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, service_workers="block")
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    page.goto(address + "/s/S-400")
    page.wait_for_timeout(6000)
    moved: list[int] = []
    page.on("requestfinished", lambda request: moved.append(sum(request.sizes().values())))
    for serial in range(20):
        page.keyboard.type(f"]C100{sscc(7000 + serial)}", delay=1)
        page.keyboard.press("Enter")
        page.wait_for_timeout(1500)
    page.wait_for_timeout(3000)
    print(
        f"20 scans at a shipment of 400 cartons: {sum(moved) / 1000:.0f} kB in {len(moved)} requests, headers included"
    )
    context.close()


def busy_ms(browser: object, url: str) -> float:
    """The main thread's busy time of loading a page, with the CPU slowed four times."""
    times = []
    for _ in range(3):
        context = browser.new_context(viewport={"width": 360, "height": 740}, service_workers="block")
        page = context.new_page()
        session = context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": 4})
        session.send("Performance.enable", {"timeDomain": "threadTicks"})
        page.goto(url)
        page.wait_for_timeout(1500)
        metrics = {each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]}
        times.append(1000 * metrics["TaskDuration"])
        context.close()
    return statistics.median(times)


def many(manifest_rows: int) -> bytes:
    header = "shipment,store,carton,sscc,kind,section,column,row\n"
    rows = "".join(
        f"S-400,0417,{n:03d},{sscc(7000 + n)},tray,Run {n % 8},{n % 9 + 1},1\n" for n in range(manifest_rows)
    )
    return (header + rows).encode()


def main() -> None:
    folder = Path(tempfile.mkdtemp(prefix="phone-screen-"))
    with open_context(folder, PlannedReader()) as ctx:
        service.import_manifest(ctx, "many.csv", many(400))
        manifest: Manifest = service.get_manifest(ctx, SHIPMENT)[0]
        server = make_server(ctx, host="127.0.0.1", port=0)
        threading.Thread(target=server.run, daemon=True).start()
        address = f"http://127.0.0.1:{server.effective_port}"
        video = folder / "labels.y4m"
        write_y4m(video, [pile_frame(manifest, LABELS, shift_px=shift) for shift in range(-15, 16, 3)])
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=CHROMIUM, args=[*ARGUMENTS, f"--use-file-for-fake-video-capture={video}"]
            )
            camera(browser, address)
            bytes_of_scans(browser, address)
            empty = busy_ms(browser, f"{address}/assets/x/icon.svg")
            for name, path in (("find", "/s/S-400"), ("stage", "/s/S-400/stage"), ("plan", "/s/S-400/plan")):
                busy = busy_ms(browser, address + path)
                print(f"main thread, {name} of 400 cartons at 4x: {busy:.0f} ms, {busy / empty:.1f} of an empty page")
            browser.close()
        server.close()


if __name__ == "__main__":
    main()
