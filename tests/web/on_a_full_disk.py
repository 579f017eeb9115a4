"""What a served service answers while its disk is full, and once there is room again; printed as JSON.

Run in a mount namespace of its own, in which the folder given first is a small disk; the second is another disk.
"""

import http.cookiejar
import json
import re
import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, Request, build_opener

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving import service
from receiving.model import Source
from tests.planned_reader import PlannedReader
from tests.web.page_text import read
from tests.web.scenario import LAYOUT, MANIFEST, SHIPMENT, picture, sscc

ROOT = Path(__file__).resolve().parents[2]
SHIPMENT_AT = "/s/S-2041~2FA"
NEW_SHIPMENT = MANIFEST.splitlines()[0] + f"\nS-3000,0422,01,{sscc(700)},,tray,Harbor Lane,1,1,no,T,t,1,ea,6,60,40,30,"
NAMED = ("--sender-id", "S", "--receiver-id", "R")
OF_THE_SHIPMENT = (
    *("live", "state", "receipt", "stage", "cartons/01", "sheet", "bay-sheets", "hand-over", "contents"),
    "before-the-visit",
)
PAGES = (
    *("/", "/healthz", "/overview", "/overview.csv", "/import", "/outbox", "/people", SHIPMENT_AT),
    *(f"{SHIPMENT_AT}/{page}" for page in OF_THE_SHIPMENT),
)


class Client:
    """A browser that keeps its cookies."""

    def __init__(self, port: int) -> None:
        self.base = f"http://127.0.0.1:{port}"
        self.jar = http.cookiejar.CookieJar()
        self.opener = build_opener(HTTPCookieProcessor(self.jar))
        self.get("/")

    def ask(self, request: Request) -> tuple[int, str]:
        try:
            with self.opener.open(request, timeout=60) as answer:
                return answer.status, answer.read().decode()
        except HTTPError as answer:
            return answer.code, answer.read().decode()

    def get(self, path: str) -> tuple[int, str]:
        return self.ask(Request(self.base + path))

    def token(self) -> str:
        return next(str(cookie.value) for cookie in self.jar if cookie.name == "token")

    def post(self, path: str, fields: dict[str, str]) -> tuple[int, str]:
        return self.ask(Request(self.base + path, urlencode({"token": self.token(), **fields}).encode()))

    def send_json(self, path: str, sent: object) -> tuple[int, str]:
        headers = {"Content-Type": "application/json", "X-Token": self.token()}
        return self.ask(Request(self.base + path, json.dumps(sent).encode(), headers))

    def upload(self, path: str, field: str, name: str, data: bytes) -> tuple[int, str]:
        mark = uuid.uuid4().hex
        parts = [f'--{mark}\r\nContent-Disposition: form-data; name="token"\r\n\r\n{self.token()}\r\n'.encode()]
        parts.append(f'--{mark}\r\nContent-Disposition: form-data; name="{field}"; filename="{name}"\r\n\r\n'.encode())
        parts += [data, f"\r\n--{mark}--\r\n".encode()]
        headers = {"Content-Type": f"multipart/form-data; boundary={mark}"}
        return self.ask(Request(self.base + path, b"".join(parts), headers))


@contextmanager
def served(data: Path, messages: Path) -> Iterator[Client]:
    command = [sys.executable, "-m", "receiving", "serve", "--data", str(data), "--port", "0"]
    with subprocess.Popen(
        [*command, "--messages-to", str(messages), *NAMED], cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout is not None
            found = next(filter(None, (re.search(r"http://[^/]*:(\d+)/", line) for line in process.stdout)))
            yield Client(int(found[1]))
        finally:
            process.terminate()


def fill(disk: Path) -> Path:
    """Leave no byte free."""
    ballast = disk / "ballast"
    for size in (65_536, 4096, 1):
        with ballast.open("ab", buffering=0) as file:
            try:
                while file.write(bytes(size)) == size:
                    pass
            except OSError:
                continue
    return ballast


def digest_shown(client: Client) -> str:
    field, *_ = read(client.get(f"{SHIPMENT_AT}/receipt")[1]).all("input", name_="digest")
    return field.attributes["value"]


def action(text: str) -> dict[str, object]:
    fields = [["text", text], ["source", Source.SCANNER.value]]
    return {"id": str(uuid.uuid4()), "url": f"{SHIPMENT_AT}/scans", "made_at": "2026-03-05T09:00:00Z", "fields": fields}


def work(client: Client, data: Path, beside: Path, scanned: dict[str, object]) -> dict[str, object]:
    """Everything that stores something: the answer of each, its status first."""
    names = {"name": "Grace", "role": "Manager", "how": "exceptions", "short": "searched"}
    answers = {
        "scan": client.post(f"{SHIPMENT_AT}/scans", {"text": sscc(5), "source": "scanner"}),
        "outbox": client.send_json("/actions", {"actions": [scanned]}),
        "photo": client.upload(f"{SHIPMENT_AT}/photos", "photos", "a.png", picture()),
        "note": client.post(f"{SHIPMENT_AT}/notes", {"kind": "carton_seen", "carton": "06", "reason": "no label"}),
        "import": client.upload("/import", "file", "m.csv", NEW_SHIPMENT.encode()),
        "layout": client.post(
            "/office/layouts/0417", {"text": LAYOUT.replace("B1", "B7"), "do": "save", "follows": "1"}
        ),
        "confirm": client.post(f"{SHIPMENT_AT}/receipt", {"digest": digest_shown(client), **names}),
        "ready": client.get("/readyz"),
    }
    commands = {
        "rescue": ["backup", "--out", str(beside / f"{uuid.uuid4()}.zip"), "--data", str(data)],
        "export": ["export", "S-2055", "--data", str(data), "--out", str(beside / f"{uuid.uuid4()}.csv")],
        "overview": ["overview", "--data", str(data)],
        "check": ["check", "--data", str(data)],
        "doctor": ["doctor", "--data", str(data)],
        "backup": ["backup", "--out", str(data.parent / "copy.zip"), "--data", str(data)],
        "backup_folder": ["backup", "--out", str(data.parent / "copies"), "--data", str(data)],
        "add": ["add", "S-2055", "--data", str(data), "--codes", sscc(101)],
        "load": ["import", str(beside / "new.csv"), "--data", str(data)],
        "messages": ["messages", "--again", "--out", str(data.parent / "sent"), "--data", str(data), *NAMED],
    }
    for name, command in commands.items():
        done = subprocess.run(
            [sys.executable, "-m", "receiving", *command], cwd=ROOT, capture_output=True, text=True, check=False
        )
        answers[name] = (done.returncode, done.stdout + done.stderr)
    return {
        name: (code, output if name in commands else read(output).text[:3000])
        for name, (code, output) in answers.items()
    }


def files(disk: Path) -> list[str]:
    return sorted(str(path.relative_to(disk)) for path in disk.rglob("*") if path.is_file())


def main() -> None:
    disk, beside = Path(sys.argv[1]), Path(sys.argv[2])
    data = disk / "data"
    (beside / "new.csv").write_text(NEW_SHIPMENT.replace("S-3000", "S-4000").replace(sscc(700), sscc(701)))
    with service.Context(data, PlannedReader()) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST.encode())
        service.import_layout(ctx, "l.toml", LAYOUT.encode())
        digest, searched = service.show_receipt(ctx, "S-2055").digest, service.MissingAnswer(searched=True)
        service.confirm(ctx, "S-2055", digest, name="Ada", role="Rep", with_exceptions=True, missing=searched)
    for name in ("messages", "sent"):
        (disk / name).mkdir()
    found: dict[str, object] = {}
    with served(data, disk / "messages") as client:
        first = {path: client.get(path)[0] for path in PAGES}
        found["first"], scanned = first, action(sscc(7))
        before = files(disk)
        ballast = fill(disk)
        found["full"] = work(client, data, beside, scanned)
        found["new_files"] = [name for name in files(disk) if name not in {*before, "ballast"}]
        found["pages"] = [(path, status) for path in PAGES if (status := client.get(path)[0]) != first[path]]
        with service.Context(data, PlannedReader(), create=False) as ctx:
            view = service.get_shipment(ctx, SHIPMENT)
            found["stored"] = [len(view.reads), len(view.notes), len(view.photos), len(view.receipts)]
        ballast.unlink()
        found["again"] = work(client, data, beside, scanned)
    found["whole"] = service.check(data).whole
    found["messages"] = [name for name in files(disk) if name.startswith(("messages", "sent"))]
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main()
