"""Phones that scan and follow, for benches: HTTP/1.1 over connections that are kept, as a browser's page does it."""

import asyncio
import gzip
import re
import uuid
from dataclasses import dataclass, field
from statistics import quantiles
from time import perf_counter
from urllib.parse import urlencode

TOKEN = "bench-token-bench-token-bench-token"
LIMIT_S = 20.0


@dataclass
class Tally:
    """How long each kind of request took, in seconds, and what was answered."""

    took_s: dict[str, list[float]] = field(default_factory=dict)
    statuses: dict[int, int] = field(default_factory=dict)
    bytes: int = 0
    refused: str = ""

    def add(self, kind: str, seconds: float, status: int) -> None:
        self.took_s.setdefault(kind, []).append(seconds)
        self.statuses[status] = self.statuses.get(status, 0) + 1

    def at(self, kind: str, percent: int) -> float:
        """This percentile in milliseconds."""
        taken = self.took_s.get(kind, [])
        return 1000 * (quantiles(taken, n=100, method="inclusive")[percent - 1] if len(taken) > 1 else sum(taken))


class Phone:
    """One phone at one shipment; status 0 stands for no answer within the limit.

    One that ``holds`` the part of the page that it follows is sent what changed in it.
    """

    in_parts = False
    """A form without files is sent in parts, as the scripts did before they sent it as a line of fields."""

    def __init__(self, port: int, shipment: str, tally: Tally, *, holds: bool = True) -> None:
        self.holds = holds
        self.port, self.shipment, self.tally = port, shipment, tally
        self.etag = self._action = self.mark = ""
        self._token, self._cookie = TOKEN, ""
        self.last = b""
        self._ends: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def greet(self) -> None:
        """Get the form's token, as the open page does; a service that has no such address takes any."""
        if await self._timed("signal", "GET", "/signal") == 200:
            self._token = self._cookie or TOKEN

    async def scan(self, text: str) -> int:
        self._action = str(uuid.uuid4())
        fields = {"text": text, "scan_id": self._action, "source": "scanner", "place": "dock", "by": "Ana"}
        return await self._timed(
            "scan", "POST", f"/s/{self.shipment}/scans", *(_form if self.in_parts else _line)(fields)
        )

    async def photo(self, data: bytes) -> int:
        self._action = str(uuid.uuid4())
        body, kind = _form({"place": "dock", "by": "Ana"}, ("photos", "pile.jpg", data))
        return await self._timed("photo", "POST", f"/s/{self.shipment}/photos", body, kind)

    async def follow(self) -> None:
        """Ask for what changed in the page's part, as the open page does every second."""
        await self._timed("live", "GET", f"/s/{self.shipment}/live")

    async def get(self, kind: str, path: str) -> int:
        return await self._timed(kind, "GET", path)

    async def _timed(self, kind: str, method: str, path: str, body: bytes = b"", content_type: str = "") -> int:
        start = perf_counter()
        try:
            status = await asyncio.wait_for(self._ask(method, path, body, content_type), LIMIT_S)
        except (TimeoutError, OSError, asyncio.IncompleteReadError):
            self.close()
            status = 0
        self.tally.add(kind, perf_counter() - start, status)
        return status

    async def _ask(self, method: str, path: str, body: bytes, content_type: str) -> int:
        if self._ends is None:
            self._ends = await asyncio.open_connection("127.0.0.1", self.port)
        reader, writer = self._ends
        lines = [f"{method} {path} HTTP/1.1", "Host: 127.0.0.1", f"Cookie: token={self._token}", "X-Part: answer"]
        lines += ["Accept-Encoding: gzip"]
        if method == "POST":
            lines += [
                f"X-Action: {self._action or uuid.uuid4()}",
                f"X-Token: {self._token}",
                f"Content-Type: {content_type}",
                f"Content-Length: {len(body)}",
            ]
        elif path.endswith("/live"):
            lines += [f"If-None-Match: {self.etag}"] * bool(self.etag) + [f"X-Held: {self.mark}"] * bool(self.mark)
        writer.write("\r\n".join([*lines, "", ""]).encode() + body)
        await writer.drain()
        return await self._answered(reader, path)

    async def _answered(self, reader: asyncio.StreamReader, path: str) -> int:
        head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1")
        status = int(head.split(" ", 2)[1])
        headers = dict(line.split(": ", 1) for line in head.split("\r\n")[1:] if ": " in line)
        named = {name.lower(): value for name, value in headers.items()}
        if cookie := re.search(r"^set-cookie: token=([^;\r]+)", head, re.IGNORECASE | re.MULTILINE):
            self._cookie = cookie[1]
        got = await reader.readexactly(int(named.get("content-length", "0")))
        self.tally.bytes += len(got)
        self.last = gzip.decompress(got) if named.get("content-encoding") == "gzip" else got
        if status >= 400 and not self.tally.refused:
            self.tally.refused = self.last[:2000].decode("utf-8", "replace")
        if path.endswith("/live") and status == 200:
            self.etag = named.get("etag", "")
            self.mark = named.get("x-mark", "") if self.holds else ""
        if named.get("connection", "").lower() == "close":
            self.close()
        return status

    def close(self) -> None:
        if self._ends is not None:
            self._ends[1].close()
            self._ends = None


def _line(fields: dict[str, str]) -> tuple[bytes, str]:
    return urlencode(fields).encode(), "application/x-www-form-urlencoded;charset=UTF-8"


def _form(fields: dict[str, str], file: tuple[str, str, bytes] | None = None) -> tuple[bytes, str]:
    edge = uuid.uuid4().hex
    body = b"".join(
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    )
    if file:
        name, file_name, data = file
        body += f'--{edge}\r\nContent-Disposition: form-data; name="{name}"; filename="{file_name}"\r\n'.encode()
        body += b"Content-Type: image/jpeg\r\n\r\n" + data + b"\r\n"
    return body + f"--{edge}--\r\n".encode(), f"multipart/form-data; boundary={edge}"
