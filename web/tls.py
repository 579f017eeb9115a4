"""TLS before waitress, which has none: connections are taken here, decrypted, and handed on to it on the loopback.

It hands on bytes and reads no HTTP, so there is nothing in a request that it could get wrong and no header that anybody
could forge: who is at the other end is told to the app by the port that its connection to waitress comes from. A
browser that speaks plain HTTP to the same port gets the page that installs the certificate authority, and nothing else.
"""

import asyncio
import logging
import socket
import ssl
import threading
from collections.abc import Awaitable, Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from receiving.errors import BadRequest, ReceivingError
from receiving.messages import message
from web.certificates import Certificates

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

_log = logging.getLogger(__name__)

TLS_RECORD = 0x16
"""The first byte of a TLS connection: a handshake record (RFC 8446, section 5.1); HTTP begins with a letter."""
HANDSHAKE_S = 10.0
STALLED_S = 60.0
"""How long somebody may take nothing of what is sent to him."""
MOST = 1000
BLOCK_BYTES = 64 * 1024
RENEW_EVERY_S = 3600.0

INSTALL_PATH = "/trust"
PLAIN_PATHS = (INSTALL_PATH, "/assets/", "/healthz")
"""What is served without TLS: the page that installs the authority, what draws it, and that the service is alive."""


@dataclass(frozen=True)
class Client:
    """Who is at the other end of a connection, and whether he speaks TLS."""

    address: str
    tls: bool


class TlsFront:
    """Takes connections at ``host`` and ``port`` and hands them on to ``inner_port`` of this machine.

    ``renew`` is called once an hour, and says whether there is a new server certificate. Raises BadRequest when the
    port cannot be used.
    """

    def __init__(self, host: str, port: int, certificates: Certificates, renew: Callable[[], bool]) -> None:
        self.clients: dict[int, Client] = {}
        self.certificates = certificates
        self._renew = renew
        self._context = _server_context(certificates)
        self._listening = _listen(host, port)
        self.port = int(self._listening[0].getsockname()[1])
        self._loop = asyncio.new_event_loop()
        self._tasks: set[asyncio.Task[None]] = set()
        self._accepting: list[asyncio.Task[None]] = []
        self._inner_port = 0
        self._thread = threading.Thread(target=self._run, name="tls", daemon=True)
        self._began_or_ended = threading.Lock()
        self._is_closed = False

    def start(self, inner_port: int) -> None:
        """Begin to hand on to this port of the loopback, unless it was closed before."""
        with self._began_or_ended:
            if not self._is_closed:
                self._inner_port = inner_port
                self._thread.start()

    def listen_no_more(self) -> None:
        """Take no more connections; those that are open go on. From any thread."""
        if self._thread.is_alive():
            with suppress(RuntimeError):  # it ended meanwhile
                self._loop.call_soon_threadsafe(self._stop_accepting)

    def close(self, within_s: float = 2.0) -> None:
        """Let what is still on its way out go, at most so long, and end; from any thread, also twice."""
        with self._began_or_ended:
            self._is_closed = True
        if self._thread.is_alive():
            finishing = self._finish(within_s)
            try:
                asyncio.run_coroutine_threadsafe(finishing, self._loop)
            except RuntimeError:  # it ended meanwhile
                finishing.close()
            self._thread.join(within_s + HANDSHAKE_S)
        else:
            for each in self._listening:
                each.close()
            if self._thread.ident is None:  # it never began
                self._loop.close()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._accepting = [self._loop.create_task(self._accept(each)) for each in self._listening]
        self._accepting.append(self._loop.create_task(self._keep_fresh()))
        try:
            self._loop.run_forever()
        finally:
            self._loop.close()

    def _stop_accepting(self) -> None:
        for task in self._accepting:
            task.cancel()
        for each in self._listening:
            if each.fileno() >= 0:
                self._loop.remove_reader(each)
            each.close()

    async def _finish(self, within_s: float) -> None:
        self._stop_accepting()
        tasks = [*self._tasks, *self._accepting]
        if tasks:
            _, open_still = await asyncio.wait(tasks, timeout=within_s)
            for task in open_still:
                task.cancel()
            if open_still:
                await asyncio.wait(open_still, timeout=1)
        self._loop.stop()

    async def _keep_fresh(self) -> None:
        while True:
            await asyncio.sleep(RENEW_EVERY_S)
            await self.renew_now()

    async def renew_now(self) -> None:
        """Show the new certificate from the next connection on, where there is one."""
        try:
            if await asyncio.to_thread(self._renew):
                self._context.load_cert_chain(self.certificates.server, self.certificates.server_key)
        except (ReceivingError, OSError) as fault:
            _log.warning("The server's certificate was not renewed: %s", fault)

    async def _accept(self, listening: socket.socket) -> None:
        """Take connections; between taking one and giving it a task nothing is awaited, so that none is lost."""
        while True:
            try:
                connection, address = listening.accept()
            except BlockingIOError:
                await _readable(self._loop, listening)
                continue
            except OSError as fault:
                if listening.fileno() < 0:
                    return
                _log.warning("A connection could not be taken: %s", fault)
                await asyncio.sleep(0.2)
                continue
            task = self._loop.create_task(self._serve(connection, str(address[0])))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)
            task.add_done_callback(partial(_close_taken, connection))  # also where it never began
            await asyncio.sleep(0)
            while len(self._tasks) >= MOST:
                await asyncio.sleep(0.05)

    async def _serve(self, connection: socket.socket, address: str) -> None:
        """One connection from its first byte to its end."""
        with connection:
            connection.setblocking(False)
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            try:
                first = await asyncio.wait_for(_first_byte(self._loop, connection), HANDSHAKE_S)
                if first is None:
                    return
                tls = first == TLS_RECORD
                outer = await _streams(self._loop, connection, self._context if tls else None)
            except OSError:  # a scan of ports, or a phone without the authority
                return
            try:
                await self._hand_on(outer, Client(address.partition("%")[0], tls))
            except OSError as fault:
                _log.debug("A connection ended: %s", fault)
            finally:
                await _close(outer[1])

    async def _hand_on(self, outer: "_Streams", client: Client) -> None:
        inner = await asyncio.open_connection("127.0.0.1", self._inner_port, limit=BLOCK_BYTES)
        port = int(inner[1].get_extra_info("sockname")[1])
        self.clients[port] = client
        inward = self._loop.create_task(_pump(outer[0], inner[1]))
        outward = self._loop.create_task(_pump(inner[0], outer[1]))
        try:
            await asyncio.wait({inward, outward}, return_when=asyncio.FIRST_COMPLETED)
            if inward.done() and not client.tls and not inward.exception():
                await asyncio.wait({outward})  # a plain client may end its half and wait for the answer
        finally:
            for task in (inward, outward):
                task.cancel()
            await asyncio.gather(inward, outward, return_exceptions=True)
            await _close(inner[1])
            self.clients.pop(port, None)


_Streams = tuple[asyncio.StreamReader, asyncio.StreamWriter]


def _server_context(certificates: Certificates) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    context.load_cert_chain(certificates.server, certificates.server_key)
    return context


def _listen(host: str, port: int) -> list[socket.socket]:
    """Sockets that listen at every address of the host, all at the same port."""
    made: list[socket.socket] = []
    try:
        wanted = host if host not in ("", "*") else None
        found = socket.getaddrinfo(wanted, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        for family, kind, protocol, _, address in dict.fromkeys(found):
            each = socket.socket(family, kind, protocol)
            made.append(each)
            if family == socket.AF_INET6:
                each.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            each.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            each.bind((address[0], made[0].getsockname()[1] if made[1:] and port == 0 else port, *address[2:]))
            each.listen(1024)
            each.setblocking(False)
    except (OSError, OverflowError) as fault:
        for each in made:
            each.close()
        raise BadRequest(
            message("Port {port} of {host} cannot be used: {fault}.", port=port, host=repr(host), fault=fault),
            next_step=message("Stop the program that uses it, or choose another port."),
        ) from fault
    return made


async def _first_byte(loop: asyncio.AbstractEventLoop, connection: socket.socket) -> int | None:
    """The first byte that comes, left where it is; None where none comes."""
    while True:
        try:
            seen = connection.recv(1, socket.MSG_PEEK)
            return seen[0] if seen else None
        except BlockingIOError:
            await _readable(loop, connection)


async def _readable(loop: asyncio.AbstractEventLoop, waited_for: socket.socket) -> None:
    """Until something can be taken from this socket, or it is closed under the hand and fails when it is asked."""
    ready: asyncio.Future[None] = loop.create_future()
    number = waited_for.fileno()  # which a closed socket no longer tells
    loop.add_reader(number, _set, ready)
    try:
        await ready
    finally:
        loop.remove_reader(number)


def _close_taken(connection: socket.socket, _: "asyncio.Task[None]") -> None:
    connection.close()


def _set(ready: "asyncio.Future[None]") -> None:
    if not ready.done():
        ready.set_result(None)


async def _streams(
    loop: asyncio.AbstractEventLoop, connection: socket.socket, context: ssl.SSLContext | None
) -> _Streams:
    """Reader and writer of a connection that was taken, after its handshake where it has one."""
    reader = asyncio.StreamReader(limit=BLOCK_BYTES, loop=loop)
    protocol = asyncio.StreamReaderProtocol(reader, loop=loop)
    limits = {"ssl_handshake_timeout": HANDSHAKE_S, "ssl_shutdown_timeout": 2.0} if context else {}
    transport, _ = await loop.connect_accepted_socket(lambda: protocol, connection, ssl=context, **limits)
    return reader, asyncio.StreamWriter(transport, protocol, reader, loop)


async def _pump(source: asyncio.StreamReader, to: asyncio.StreamWriter) -> None:
    """Hand on until the source ends; raises TimeoutError where nothing of it is taken for long."""
    while block := await source.read(BLOCK_BYTES):
        to.write(block)
        await _in_time(to.drain())
    if to.can_write_eof():
        to.write_eof()


async def _in_time(waiting: Awaitable[None]) -> None:
    await asyncio.wait_for(waiting, STALLED_S)


async def _close(writer: asyncio.StreamWriter) -> None:
    writer.close()
    with suppress(OSError):
        await asyncio.wait_for(writer.wait_closed(), HANDSHAKE_S)


class BehindTls:
    """Middleware that tells the app who is at the other end of the front's connections, and takes no others."""

    def __init__(self, app: "WSGIApplication", clients: dict[int, Client]) -> None:
        self._app = app
        self._clients = clients

    def __call__(self, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        """Answer a request (WSGI, PEP 3333)."""
        client = self._clients.get(int(environ.get("REMOTE_PORT") or 0))
        if client is None:
            start_response("421 Misdirected Request", [("Content-Length", "0")])
            return ()
        environ["REMOTE_ADDR"] = client.address
        if client.tls:
            environ["wsgi.url_scheme"] = "https"
        elif not environ.get("PATH_INFO", "").startswith(PLAIN_PATHS):
            start_response("303 See Other", [("Location", INSTALL_PATH), ("Content-Length", "0")])
            return ()
        return self._app(environ, start_response)


def own_addresses() -> tuple[str, ...]:
    """The addresses that other machines may know this one by; nothing is sent to find them."""
    found: set[str] = set()
    for family, elsewhere in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):  # RFC 5737, RFC 3849
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((elsewhere, 9))
            found.add(str(probe.getsockname()[0]))
    with suppress(OSError):
        found.update(str(each[4][0]) for each in socket.getaddrinfo(socket.gethostname(), None))
    found.update(_addresses_of_interfaces())
    return tuple(sorted(address for address in found if "%" not in address))


def _addresses_of_interfaces() -> set[str]:
    """The IPv4 address of each network interface, where the system tells it (Linux, netdevice(7))."""
    found: set[str] = set()
    with suppress(ImportError, OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        import fcntl

        asks_for_address = 0x8915
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                answer = fcntl.ioctl(probe.fileno(), asks_for_address, name.encode()[:15].ljust(256, b"\0"))
                found.add(socket.inet_ntoa(answer[20:24]))
    return found
