"""The app served by waitress: threads in lanes, no development server; plain, or behind `web.tls`."""

import logging
import math
import signal
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from ipaddress import ip_address
from typing import TYPE_CHECKING, Any

from waitress import create_server, wasyncore

from receiving import service
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.service import CompanySignOn, Context
from web import MAX_UPLOAD_BYTES, access, certificates, connections, create_app, lanes, warming
from web.connections import Channel, Sockets, is_loopback
from web.proxy import wrap_app
from web.quota import Quota
from web.tls import INSTALL_PATH, BehindTls, TlsFront, own_addresses

if TYPE_CHECKING:
    from flask import Flask

    from web.tls import TlsFront

ANSWERED_BEYOND_BYTES = 12 * 1024 * 1024
"""A server in front takes what is a little over the limit (docs/deploy), and has no answer of ours for it."""

MOST_DESCRIPTORS = 8192
TURN_S = 0.5
"""How long the loop waits for something to come before it looks whether it is to stop."""

ANY_ADDRESS = {"", "*"}
"""Hosts to listen on that name no host: waitress takes them for every address of the machine."""
EVERY_ADDRESS = ANY_ADDRESS | {"0.0.0.0", "::"}


@dataclass(frozen=True)
class Where:
    """Where pages are: their address, and with TLS the page that installs the authority, and its fingerprint.

    ``is_readable_on_the_way``: other machines reach them, and nothing here encrypts what goes over the network.
    ``lets_everybody_in``: there is no account, so whoever uses this machine can read and write.
    """

    address: str
    install_address: str = ""
    fingerprint: str = ""
    is_readable_on_the_way: bool = False
    lets_everybody_in: bool = False


def serve(
    ctx: Context,
    *,
    host: str = "127.0.0.1",
    port: int = 8000,
    allowed_hosts: Iterable[str] = (),
    proxy: str = "",
    proxy_user_header: str = "",
    tls: bool = False,
    company: CompanySignOn | None = None,
    ready: Callable[[Where], None] = lambda where: None,
) -> None:
    """Serve until stopped; ``ready`` is told where once it listens. Port 0 takes a free one.

    SIGTERM and SIGINT (Ctrl+C) stop it in order: what is in work is finished, within `Server.FINISH_S`. A second
    Ctrl+C stops it at once.

    Pages open by localhost, by IP address, by ``host`` where it is a name, and by ``allowed_hosts``. Photos that
    waited when the service last stopped are taken up again. ``proxy`` is the address of a server in front that is
    believed, ``proxy_user_header`` the header in which it tells who signed on. ``tls`` encrypts, by certificates of
    this data folder. ``company`` is the company's sign-on. Raises BadRequest when the port cannot be used or an
    allowed host is not a name.
    """
    server = make_server(
        ctx,
        host=host,
        port=port,
        allowed_hosts=allowed_hosts,
        proxy=proxy,
        proxy_user_header=proxy_user_header,
        tls=tls,
        company=company,
    )
    try:
        with _stopped_by_signals(server):
            server.warm()
            where = server.where(host, tuple(allowed_hosts))
            open_way = not (tls or proxy or is_loopback(host))
            ready(replace(where, is_readable_on_the_way=open_way, lets_everybody_in=not service.has_people(ctx)))
            server.run()
    finally:
        server.close()


@contextmanager
def _stopped_by_signals(server: "Server") -> Iterator[None]:
    """Process 1 of a container gets only signals that it has asked for, so SIGTERM has to be asked for."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread may ask for signals
        return
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}

    def stop(number: int, frame: object) -> None:
        if server.stopping and number == signal.SIGINT:
            raise KeyboardInterrupt
        server.stop()

    for number in before:
        signal.signal(number, stop)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def shown_host(host: str) -> str:
    """The host as a browser on this machine can open it."""
    return {"0.0.0.0": "localhost", "::": "localhost"}.get(host, f"[{host}]" if ":" in host else host)


def _names(host: str, allowed_hosts: Iterable[str]) -> tuple[str, ...]:
    """The names under which pages open: those allowed, and the one that is listened on, where it is not an address."""
    try:
        ip_address(host)
    except ValueError:
        return (*allowed_hosts, *({host} - ANY_ADDRESS))
    return tuple(allowed_hosts)


def make_server(
    ctx: Context,
    *,
    host: str,
    port: int,
    allowed_hosts: Iterable[str] = (),
    proxy: str = "",
    proxy_user_header: str = "",
    tls: bool = False,
    company: CompanySignOn | None = None,
) -> "Server":
    """A server that listens already; `Server.run` serves until `Server.close`."""
    _check_open_to(ctx, host, proxy)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    names = _names(host, allowed_hosts)
    pages = create_app(ctx, allowed_hosts=names, company=company, quota=Quota())
    app = wrap_app(pages, proxy, proxy_user_header)
    front = _front(ctx, host, port, names) if tls else None
    if front:
        pages.config["CERTIFICATES"] = front.certificates
        app = BehindTls(app, front.clients)
    try:
        server = _listening(app, "127.0.0.1" if front else host, 0 if front else port, front)
    except BaseException:
        if front:
            front.close()
        raise
    server.app = pages
    service.resume_photos(ctx)
    service.keep_rows(ctx)
    service.keep_sending(ctx)
    access.keep_writing(pages, ctx)
    return server


def _front(ctx: Context, host: str, port: int, names: tuple[str, ...]) -> "TlsFront":
    """What takes connections with TLS; its certificate is for every name and address that may be asked for."""

    def renew() -> bool:
        addresses = own_addresses() if host in EVERY_ADDRESS else _addresses_of(host)
        return certificates.ensure(ctx.data, ["localhost", "127.0.0.1", "::1", *addresses, *names], ctx.now())[1]

    renew()
    return TlsFront(host, port, certificates.Certificates(ctx.data / certificates.FOLDER), renew)


def _addresses_of(host: str) -> list[str]:
    try:
        return [str(ip_address(host))]
    except ValueError:
        return []


def _listening(app: Any, host: str, port: int, front: "TlsFront | None") -> "Server":
    sockets = connections.Sockets()
    try:
        waitress = create_server(
            app,
            map=sockets,
            host=host,
            port=port,
            _dispatcher=lanes.Dispatcher(),
            connection_limit=connections.most_connections(_take_descriptors(), each=3 if front else 1),
            channel_timeout=connections.IDLE_S,
            cleanup_interval=1,
            backlog=1024,
            max_request_header_size=64 * 1024,
            ident="",
            # A little too much is taken and refused in words; what is far too much is not taken at all.
            max_request_body_size=MAX_UPLOAD_BYTES + ANSWERED_BEYOND_BYTES,
            clear_untrusted_proxy_headers=False,  # `web.proxy` takes them off, and keeps those of the trusted one
        )
    except (OSError, ValueError) as fault:
        wasyncore.close_all(sockets, ignore_all=True)
        raise BadRequest(
            message("Port {port} of {host} cannot be used: {fault}.", port=port, host=repr(host), fault=fault),
            next_step=message("Stop the program that uses it, or choose another port."),
        ) from fault
    connections.limit_connections(each for each in sockets.values() if hasattr(each, "channel_class"))
    return Server(waitress, sockets, front)


def _take_descriptors() -> int:
    """Let this process have as many files and connections as the system lets it take: the usual 1,024 are too few.

    Gives how many that is.
    """
    try:
        import resource
    except ImportError:  # not POSIX
        return MOST_DESCRIPTORS
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft == resource.RLIM_INFINITY:
        return MOST_DESCRIPTORS
    wanted = MOST_DESCRIPTORS if hard == resource.RLIM_INFINITY else min(hard, MOST_DESCRIPTORS)
    if soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    return max(soft, wanted)


def _check_open_to(ctx: Context, host: str, proxy: str) -> None:
    """Without accounts whoever reaches the page can read and write, so only this machine may reach it."""
    if (proxy or not is_loopback(host)) and not service.has_people(ctx):
        raise BadRequest(
            message("There is no account yet, and {host} can be reached from other machines.", host=host or "*")
            if not is_loopback(host)
            else message("There is no account yet, and {proxy} lets people in from other machines.", proxy=proxy),
            next_step=message("Add a coordinator first: receiving user add NAME --role coordinator --data FOLDER."),
        )


class Server:
    """A listening server."""

    app: "Flask"
    """The pages that it serves."""

    FINISH_S = 8.0
    """How long what is in work may take at a stop; container runtimes kill after 10 s."""

    def __init__(self, waitress: Any, sockets: Sockets, front: "TlsFront | None" = None) -> None:
        self._waitress = waitress
        self._sockets = sockets
        self._front = front
        self._closing = False
        self._finish_by = math.inf

    def warm(self) -> None:
        """Load what the first requests would wait for; who connects meanwhile is answered afterwards."""
        warming.warm(self.app)
        warming.set_apart_what_stays()

    @property
    def stopping(self) -> bool:
        """True once it was asked to stop."""
        return self._finish_by < math.inf

    def stop(self, within_s: float = FINISH_S) -> None:
        """Take no more, finish what is in work within this time, and let `run` end; from any thread, or a signal."""
        self._finish_by = time.monotonic() + within_s

    @property
    def effective_port(self) -> int:
        """The port that it listens on; with several addresses (IPv4 and IPv6) that of the first."""
        return self._front.port if self._front else self._inner_port

    @property
    def _inner_port(self) -> int:
        listening = getattr(self._waitress, "effective_listen", None)
        return int(listening[0][1] if listening else self._waitress.effective_port)

    def where(self, host: str, names: tuple[str, ...] = ()) -> Where:
        """Where its pages are; with TLS by the first allowed name, else by an address that phones reach."""
        shown = shown_host(host)
        if not self._front:
            return Where(f"http://{shown}:{self.effective_port}/")
        if names:
            shown = names[0]
        elif host in EVERY_ADDRESS:
            shown = next((shown_host(each) for each in own_addresses() if not is_loopback(each)), shown)
        at = f"{shown}:{self.effective_port}"
        return Where(f"https://{at}/", f"http://{at}{INSTALL_PATH}", self._front.certificates.fingerprint())

    def run(self) -> None:
        """Serve until stopped or closed."""
        if self._front:
            self._front.start(self._inner_port)
        try:
            while not self.stopping and not self._closing:
                self._sockets.turn(TURN_S)
            self._listen_no_more()
            while self._close_idle() and time.monotonic() < self._finish_by and not self._closing:
                self._sockets.turn(TURN_S)
        except OSError:  # closing takes the sockets away from under the loop that waits on them
            if not self._closing:
                raise

    def _listen_no_more(self) -> None:
        if self._front:
            self._front.listen_no_more()
        for each in tuple(self._sockets.values()):
            if each.accepting and not self._closing:
                wasyncore.dispatcher.close(each)  # the socket alone: what its connections wait on stays

    def _close_idle(self) -> bool:
        """Close connections that nothing comes from or goes to; True while there are others."""
        channels = [each for each in tuple(self._sockets.values()) if isinstance(each, Channel)]
        for channel in channels:
            if channel.idle:
                channel.handle_close()
        return any(not channel.idle for channel in channels)

    def close(self) -> None:
        """Stop listening, and let the worker threads end; may be called from another thread, and twice."""
        if not self._closing:
            self._closing = True
            self._waitress.close()
            self._waitress.task_dispatcher.shutdown()
            wasyncore.close_all(self._sockets, ignore_all=True)
            if self._front:
                self._front.close()
