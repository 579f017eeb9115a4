"""A certificate authority of this service's own, and the server certificate that it signs: TLS on a store's network.

No public authority signs for an address like 192.168.1.20, and a browser keeps pages and opens the camera only where
it trusts the connection. So the service makes an authority once, which phones install, and a server certificate that
it renews by itself. The authority is of use for this store alone: X.509 name constraints (RFC 5280, section 4.2.1.10)
bind it to private addresses and to the names that it was made for, and whoever steals its key can pass for no other
site.

What a server certificate must have so that phones take it: names in the subject alternative name, the purpose
serverAuth, at most 825 days (support.apple.com/103769); 397 days is under the limit that browsers have for public ones.
"""

import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network
from pathlib import Path
from typing import TYPE_CHECKING

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, load_pem_private_key

from receiving.errors import BadRequest, StoreError
from receiving.messages import message

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

FOLDER = "tls"
AUTHORITY_DAYS = 3650
SERVER_DAYS = 397
RENEW_DAYS = 30
"""A server certificate that ends sooner is made anew; the service looks once an hour."""
CLOCK_SLACK = timedelta(days=1)
"""A phone whose clock is late must not take the certificate for one that is not valid yet."""

PRIVATE_NETWORKS = tuple(
    map(
        ip_network,
        (
            *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "100.64.0.0/10"),
            *("fc00::/7", "fe80::/10", "::1/128"),
        ),
    )
)
"""RFC 1918, RFC 3927, RFC 6598, RFC 4193, RFC 4291."""
PRIVATE_DOMAINS = ("localhost", "local", "home.arpa", "internal", "lan")
"""RFC 6761, RFC 6762, RFC 8375, ICANN 2024 (.internal); .lan is common practice, no source."""


@dataclass(frozen=True)
class Certificates:
    """Files of one folder: what the server shows, and what phones install."""

    folder: Path

    @property
    def authority(self) -> Path:
        """The authority's certificate, PEM."""
        return self.folder / "authority.crt"

    @property
    def authority_key(self) -> Path:
        """The authority's private key, PEM, for the owner alone."""
        return self.folder / "authority.key"

    @property
    def server(self) -> Path:
        """The server's certificate, PEM."""
        return self.folder / "server.crt"

    @property
    def server_key(self) -> Path:
        """The server's private key, PEM, for the owner alone."""
        return self.folder / "server.key"

    def authority_der(self) -> bytes:
        """The authority's certificate as phones take it (DER, X.690)."""
        return _load(self.authority).public_bytes(Encoding.DER)

    def fingerprint(self) -> str:
        """SHA-256 of the authority's certificate, in the form in which phones show it: pairs of hex digits."""
        return _load(self.authority).fingerprint(SHA256()).hex(":").upper()


def ensure(data: Path, hosts: Iterable[str], now: datetime) -> tuple[Certificates, bool]:
    """The certificates in this data folder for these names and addresses, and whether the server's was made now.

    The authority is made once and kept; the server's certificate is made anew when it is about to end, or when a name
    or address is not in it. Raises BadRequest for a name that the authority may not sign for, StoreError where the
    files cannot be read or written.
    """
    found = Certificates(data / FOLDER)
    names = sorted({host.lower().removesuffix(".") for host in hosts})
    try:
        _make_folder(found.folder)
        if not (found.authority.exists() and found.authority_key.exists()):
            _make_authority(found, names, now)
        return found, _renew_server(found, names, now)
    except (OSError, ValueError) as fault:
        raise StoreError(
            message("The certificates in {folder} cannot be used: {fault}.", folder=found.folder, fault=fault),
            next_step=message(
                "Make the folder readable for this service alone, or move it away: a new authority is "
                "made, and every phone installs it again."
            ),
        ) from fault


def _make_folder(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)


def _make_authority(found: Certificates, names: list[str], now: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    serial = x509.random_serial_number()
    name = _name(f"Receiving of this store, {now:%Y-%m-%d}, {serial:x}"[:64])
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)  # signs certificates and lists
    built = (
        _builder(name, name, key, now, AUTHORITY_DAYS, serial)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.NameConstraints(_permitted(names), None), critical=True)
        .sign(key, SHA256())
    )
    _write(found.authority_key, _key_pem(key))
    _write(found.authority, _pem(built))


def _permitted(names: Iterable[str]) -> "list[x509.GeneralName]":
    """What the authority may sign for: private networks and domains, and what it was made for."""
    networks: list[IPv4Network | IPv6Network] = list(PRIVATE_NETWORKS)
    domains = list(PRIVATE_DOMAINS)
    for name in names:
        address = _address(name)
        if address is None:
            domains.append(name)
        elif not _is_private(name):
            networks.append(ip_network(address))
    return [*map(x509.IPAddress, networks), *map(x509.DNSName, dict.fromkeys(domains))]


def _renew_server(found: Certificates, names: list[str], now: datetime) -> bool:
    authority = _load(found.authority)
    if authority.not_valid_after_utc - now < timedelta(days=SERVER_DAYS):
        _make_authority(found, names, now)
        authority = _load(found.authority)
    if _still_good(found, authority, names, now):
        return False
    _check_may_sign(authority, names)
    signer = load_pem_private_key(found.authority_key.read_bytes(), password=None)
    if not isinstance(signer, ec.EllipticCurvePrivateKey):
        raise ValueError("the authority's key is of another kind")
    if signer.public_key() != authority.public_key():
        raise ValueError("the authority's key and certificate do not belong together")
    key = ec.generate_private_key(ec.SECP256R1())
    usage = x509.KeyUsage(True, False, False, False, False, False, False, False, False)  # signs handshakes
    issuer_key = authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    built = (
        _builder(_name("Receiving"), authority.subject, key, now, SERVER_DAYS - CLOCK_SLACK.days)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(issuer_key), critical=False)
        .sign(signer, SHA256())
    )
    _write(found.server_key, _key_pem(key))
    _write(found.server, _pem(built))
    return True


def _still_good(found: Certificates, authority: "x509.Certificate", names: list[str], now: datetime) -> bool:
    if not (found.server.exists() and found.server_key.exists()):
        return False
    try:
        held = _load(found.server)
        key = load_pem_private_key(found.server_key.read_bytes(), password=None)
        held.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        return False
    if key.public_key() != held.public_key() or held.not_valid_after_utc - now < timedelta(days=RENEW_DAYS):
        return False
    listed = held.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return held.not_valid_before_utc <= now and {_general(name) for name in names} <= set(listed)


def _check_may_sign(authority: "x509.Certificate", names: Iterable[str]) -> None:
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    networks = [ip_network(str(each.value)) for each in permitted if isinstance(each, x509.IPAddress)]
    domains = [each.value for each in permitted if isinstance(each, x509.DNSName)]
    for name in names:
        address = _address(name)
        if address is None:
            good = any(name == domain or name.endswith(f".{domain}") for domain in domains)
        else:
            good = any(ip_address(address) in network for network in networks)
        if not good:
            raise BadRequest(
                message("The certificate authority of this data folder was not made for {name}.", name=repr(name)),
                next_step=message(
                    "Use a name or address that it was made for; or move the folder tls away: a new "
                    "authority is made, and every phone installs it again."
                ),
            )


def _builder(
    subject: "x509.Name",
    issuer: "x509.Name",
    key: "EllipticCurvePrivateKey",
    now: datetime,
    days: int,
    serial: int | None = None,
) -> "x509.CertificateBuilder":
    now = now.astimezone(UTC).replace(microsecond=0)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(serial or x509.random_serial_number())
        .not_valid_before(now - CLOCK_SLACK)
        .not_valid_after(now + timedelta(days=days))
    )


def _name(words: str) -> "x509.Name":
    return x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, words)])


def _general(name: str) -> "x509.GeneralName":
    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(ip_address(address))


def _address(name: str) -> str | None:
    with suppress(ValueError):
        return str(ip_address(name))
    return None


def _is_private(address: str) -> bool:
    return any(ip_address(address) in network for network in PRIVATE_NETWORKS)


def _load(path: Path) -> "x509.Certificate":
    return x509.load_pem_x509_certificate(path.read_bytes())


def _pem(certificate: "x509.Certificate") -> bytes:
    return certificate.public_bytes(Encoding.PEM)


def _key_pem(key: "EllipticCurvePrivateKey") -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _write(path: Path, data: bytes) -> None:
    """Write a file for its owner alone, whole or not at all."""
    part = path.with_suffix(path.suffix + ".part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
