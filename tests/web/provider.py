"""A small OpenID Connect provider on this machine: real signed tokens, and every check that it owes its clients."""

import base64
import hashlib
import json
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey

CLIENT, SECRET = "receiving", "a secret of both"


@dataclass
class Provider:
    """What the provider knows, and what tests may spoil: ``claims`` and ``header`` are put over the right ones."""

    issuer: str = ""
    now_s: int = 0
    person: str = "u-417"
    claims: dict[str, Any] = field(default_factory=dict)
    algorithm: str = "RS256"
    key: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"use": "sig"}, auto_kid=True))
    signing_key: RSAKey | None = None
    asked: dict[str, dict[str, str]] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    asks: str = ""
    """The password that its own page asks the person for; empty where the person has signed on there before."""

    def describe(self) -> dict[str, Any]:
        return {
            "issuer": self.issuer,
            "authorization_endpoint": f"{self.issuer}/authorize",
            "token_endpoint": f"{self.issuer}/token",
            "jwks_uri": f"{self.issuer}/keys",
        }

    def authorize(self, query: dict[str, str]) -> str:
        """Where the browser is sent back to, once the person has signed on."""
        code = secrets.token_urlsafe(8)
        self.asked[code] = query
        return f"{query['redirect_uri']}?code={code}&state={query['state']}"

    def token(self, fields: dict[str, str]) -> dict[str, Any] | None:
        """The tokens for a code, given once, to the client that asked, who holds the verifier (RFC 7636, 4.6)."""
        asked = self.asked.pop(fields.get("code", ""), None)
        if asked is None or fields["redirect_uri"] != asked["redirect_uri"]:
            self.refused.append("code")
            return None
        challenge = base64.urlsafe_b64encode(hashlib.sha256(fields["code_verifier"].encode()).digest()).rstrip(b"=")
        if asked["code_challenge_method"] != "S256" or challenge.decode() != asked["code_challenge"]:
            self.refused.append("verifier")
            return None
        if (fields["client_id"], fields["client_secret"]) != (CLIENT, SECRET):
            self.refused.append("client")
            return None
        now = self.now_s
        right = {"iss": self.issuer, "sub": self.person, "aud": CLIENT, "iat": now, "exp": now + 300}
        claims = {**right, "nonce": asked["nonce"], **self.claims}
        key = self.signing_key or self.key
        header = {"alg": self.algorithm, "kid": self.key.kid}
        return {"access_token": "x", "token_type": "Bearer", "id_token": jwt.encode(header, claims, key)}


class _Handler(BaseHTTPRequestHandler):
    provider: Provider

    def do_GET(self) -> None:
        path = urlsplit(self.path)
        if path.path == "/.well-known/openid-configuration":
            self._answer(self.provider.describe())
        elif path.path == "/keys":
            self._answer(KeySet([self.provider.key]).as_dict(private=False))
        elif path.path == "/authorize":
            query = {name: values[0] for name, values in parse_qs(path.query).items()}
            if self.provider.asks and query.pop("password", "") != self.provider.asks:
                self._ask(query)
                return
            self.send_response(302)
            self.send_header("Location", self.provider.authorize(query))
            self.end_headers()
        else:
            self.send_error(404)

    def _ask(self, query: dict[str, str]) -> None:
        """The provider's own page: a form that keeps what the service asked for."""
        kept = "".join(f'<input type="hidden" name="{escape(n)}" value="{escape(v)}">' for n, v in query.items())
        form = f'<form action="/authorize">{kept}<input name="password" type="password"><button>Sign on</button></form>'
        data = f"<!doctype html><title>Lumovane</title><h1>Sign on to Lumovane</h1>{form}".encode()
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"])).decode()
        answer = self.provider.token({name: values[0] for name, values in parse_qs(body).items()})
        self._answer(answer) if answer else self.send_error(400)

    def _answer(self, value: object) -> None:
        data = json.dumps(value).encode()
        self.send_response(200)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def log_message(self, *args: object) -> None:
        pass


@contextmanager
def provider_here() -> Iterator[Provider]:
    """The provider, listening on this machine."""
    found = Provider()
    handler = type("Handler", (_Handler,), {"provider": found})
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        found.issuer = f"http://127.0.0.1:{server.server_address[1]}"
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield found
        server.shutdown()
        thread.join()
