"""An authenticator in software: makes a passkey and signs with it, as Web Authentication (level 3, 6) says one does."""

import hashlib
import json
import secrets
import struct
from dataclasses import dataclass, field, replace
from typing import Any

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from webauthn.helpers import bytes_to_base64url

PRESENT, VERIFIED, WITH_KEY = 0x01, 0x04, 0x40


@dataclass(frozen=True)
class Authenticator:
    """One passkey; a test spoils a copy of it by `replace`. ``count`` is what it says of how often it signed."""

    host: str = "localhost"
    origin: str = "http://localhost"
    count: int = 1
    flags: int = PRESENT | VERIFIED
    credential_id: bytes = field(default_factory=lambda: secrets.token_bytes(16))
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))

    def but(self, **changed: Any) -> "Authenticator":
        return replace(self, **changed)

    def _client_data(self, kind: str, challenge: str) -> bytes:
        return json.dumps({"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}).encode()

    def _data(self, flags: int) -> bytes:
        return hashlib.sha256(self.host.encode()).digest() + struct.pack(">BI", flags, self.count)

    def make(self, options: dict[str, Any]) -> str:
        """The new passkey for these options (7.1), attested by nobody."""
        numbers = self.key.public_key().public_numbers()
        public = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32), -3: numbers.y.to_bytes(32)}
        attested = bytes(16) + struct.pack(">H", len(self.credential_id)) + self.credential_id + cbor2.dumps(public)
        made = {"fmt": "none", "attStmt": {}, "authData": self._data(self.flags | WITH_KEY) + attested}
        return self._credential(
            clientDataJSON=self._client_data("webauthn.create", options["challenge"]),
            attestationObject=cbor2.dumps(made),
        )

    def use(self, options: dict[str, Any], **more: Any) -> str:
        """The answer to these options (7.2)."""
        client, data = self._client_data("webauthn.get", options["challenge"]), self._data(self.flags)
        signature = self.key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return self._credential(clientDataJSON=client, authenticatorData=data, signature=signature, **more)

    def _credential(self, **response: bytes) -> str:
        named = bytes_to_base64url(self.credential_id)
        given = {name: bytes_to_base64url(value) for name, value in response.items()}
        return json.dumps({"id": named, "rawId": named, "type": "public-key", "response": given})
