"""A company's own sign-on: OpenID Connect Core 1.0 with the authorization code flow, PKCE (RFC 7636), state and nonce.

The company's provider says who somebody is; which account that is, and what it may do, is said here. An account is
found by one claim of the signed token (`sub`, or `email` where the provider says that it verified it), and never made.
A session dates from when the provider last asked the person who he is (`auth_time`), not from when it was begun.
"""

import hashlib
import json
import logging
import secrets
import tomllib
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from typing import Any
from urllib.parse import urlencode, urlsplit

from receiving.errors import BadRequest, ReceivingError
from receiving.messages import Text, listing, message
from receiving.model import Access, Deed
from receiving.service.auditing import write_refusal
from receiving.service.context import Context
from receiving.service.signing_in import FRESH, SESSION_LIFE, SignedIn, SignInRefused, begin_session
from receiving.wording.network import why_no_answer

_log = logging.getLogger(__name__)

ANSWER_WITHIN = timedelta(minutes=10)
TIMEOUT_S = 10.0
MOST_BYTES = 1024 * 1024
LEEWAY_S = 60
ALGORITHMS = ("RS256", "PS256", "ES256", "RS384", "PS384", "ES384", "RS512", "PS512", "ES512")
"""Signatures by a key of the provider; never none, never by a secret that both know."""
CLAIMS = ("sub", "email")
WAY = "company sign-on"
"""What the audit log calls it."""
_PURPOSE = "company sign-on"

Fetch = Callable[[str, Mapping[str, str] | None, Mapping[str, str]], Any]
"""Gives the JSON that is at an address, after a POST of these fields where there are some, with these headers."""


class SignOnUnreachable(ReceivingError):
    """The company's provider did not answer, or not as OpenID Connect says."""


@dataclass(frozen=True)
class CompanySignOn:
    """The provider: ``claim`` of its token names the person, ``label`` is what the page calls it."""

    issuer: str
    client_id: str
    client_secret: str
    claim: str = "sub"
    label: str = "Company sign-on"


@dataclass(frozen=True)
class Leaving:
    """Where the browser goes to sign on, and the state that it must bring back (kept in its own cookie)."""

    address: str
    state: str


def read_company_sign_on(name: str, data: bytes) -> CompanySignOn:
    """The provider from its TOML file. Raises BadRequest for a file that cannot be used."""
    try:
        found = tomllib.loads(data.decode())
        known = CompanySignOn(**{key: str(value) for key, value in found.items()})
    except (ValueError, TypeError) as fault:
        raise BadRequest(
            message("{name} cannot be used: {fault}.", name=name, fault=fault),
            next_step=message(
                "It has issuer, client_id, client_secret, and where wanted claim and label (docs/operations.md)."
            ),
        ) from fault
    if known.claim not in CLAIMS:
        raise BadRequest(
            message("{name}: claim {claim} names nobody.", name=name, claim=repr(known.claim)),
            next_step=message("Use {claims}.", claims=listing(CLAIMS, choice=True)),
        )
    _check_address(known.issuer)
    return known


def _check_address(address: str) -> None:
    """Only TLS proves whose address it is (OpenID Connect Core, 3.1.3.7); a provider on this machine needs none."""
    parts = urlsplit(address)
    here = parts.hostname in ("localhost", "127.0.0.1", "::1")
    if parts.scheme != "https" and not (parts.scheme == "http" and here):
        raise BadRequest(
            message("{address} is not an https address.", address=repr(address[:80])),
            next_step=message("Give the issuer as https://…."),
        )


def leave_to_sign_on(
    ctx: Context, company: CompanySignOn, *, back_to: str, then: str, again: bool = False, fetch: Fetch | None = None
) -> Leaving:
    """Where to go to sign on; ``back_to`` is our address for the answer, ``then`` the page that was wanted.

    ``again``: the provider is to ask the person, though he has signed on there already. Raises SignOnUnreachable.
    """
    from authlib.oauth2.rfc7636 import create_s256_code_challenge

    provider = _provider(company, fetch or _fetch)
    state, nonce, verifier = (secrets.token_urlsafe(32) for _ in range(3))
    now = ctx.clock()
    kept = json.dumps({"nonce": nonce, "verifier": verifier, "back_to": back_to, "then": then})
    with ctx.transaction() as store:
        store.add_challenge(_sha256(state), _PURPOSE, kept, now=now, until=now + ANSWER_WITHIN)
    asked = {
        "response_type": "code",
        "client_id": company.client_id,
        "redirect_uri": back_to,
        "scope": "openid email" if company.claim == "email" else "openid",
        "state": state,
        "nonce": nonce,
        "code_challenge": create_s256_code_challenge(verifier),
        "code_challenge_method": "S256",
        # OpenID Connect Core, 3.1.2.1: so a provider says when it asked, and asks again where that is too long ago.
        "max_age": "0" if again else str(int(SESSION_LIFE.total_seconds())),
        **({"prompt": "login"} if again else {}),
    }
    join = "&" if "?" in provider["authorization_endpoint"] else "?"
    return Leaving(provider["authorization_endpoint"] + join + urlencode(asked), state)


def come_from_sign_on(
    ctx: Context,
    company: CompanySignOn,
    *,
    state: str,
    held: str,
    code: str,
    issuer: str = "",
    error: str = "",
    instead_of: Access | None = None,
    fetch: Fetch | None = None,
) -> tuple[SignedIn, str]:
    """Begin a session of whom the provider names (``instead_of`` this browser's); gives the page that was wanted too.

    ``held`` is the state of this browser's own cookie, ``issuer`` what the answer says of itself (RFC 9207), ``error``
    why the provider turned the person away (RFC 6749, 4.1.2.1). Raises SignInRefused, SignOnUnreachable.
    """
    try:
        then = _take_asked(ctx, company, state, held, issuer)
        if error:
            raise SignInRefused(
                message("The company's sign-on did not let you in."),
                next_step=message("Begin again on the page “Sign in”, or ask whoever runs the sign-on."),
            )
        return _come(ctx, company, then, code, fetch or _fetch, instead_of)
    except (SignInRefused, SignOnUnreachable):
        write_refusal(ctx, Deed.SIGN_IN_REFUSED, detail=WAY)
        raise


def _take_asked(ctx: Context, company: CompanySignOn, state: str, held: str, issuer: str) -> dict[str, str]:
    """What was asked for at this state, which is over now. Raises SignInRefused for the state of another browser."""
    with ctx.transaction() as store:
        kept = store.take_challenge(_sha256(state), _PURPOSE, ctx.clock())
    if not kept or not secrets.compare_digest(state.encode(), held.encode()) or issuer not in ("", company.issuer):
        raise SignInRefused(
            message("This answer of the company's sign-on does not belong to a sign-in of this browser."),
            next_step=message("Begin again on the page “Sign in”."),
        )
    asked: dict[str, str] = json.loads(kept)
    return asked


def _come(
    ctx: Context, company: CompanySignOn, asked: Mapping[str, str], code: str, fetch: Fetch, instead_of: Access | None
) -> tuple[SignedIn, str]:
    provider = _provider(company, fetch)
    given = fetch(
        provider["token_endpoint"],
        {
            "grant_type": "authorization_code",
            "code": code,
            "redirect_uri": asked["back_to"],
            "client_id": company.client_id,
            "client_secret": company.client_secret,
            "code_verifier": asked["verifier"],
        },
        {},
    )
    claims = _claims(company, given, fetch(provider["jwks_uri"], None, {}), asked["nonce"], ctx.clock().timestamp())
    with ctx.transaction() as store:
        person = store.person_of_subject(_named(company, claims))
        if person is None:
            raise SignInRefused(
                message("The company's sign-on names nobody who has an account here."),
                next_step=message("Ask a coordinator to write down what it calls you, on the page People."),
            )
        asked_at = _asked_at(claims, ctx.clock())
        return begin_session(ctx, store, person, instead_of, way=WAY, shown_at=asked_at), asked["then"]


def _asked_at(claims: Mapping[str, Any], now: datetime) -> datetime:
    """When the provider last asked the person; long ago where it does not say.

    Raises SignInRefused where it is longer ago than a session may last.
    """
    stated = claims.get("auth_time")
    if not isinstance(stated, int | float) or isinstance(stated, bool):
        return now - FRESH - timedelta(seconds=1)
    try:
        asked_at = min(now, datetime.fromtimestamp(stated, UTC))
    except (ValueError, OverflowError, OSError):
        asked_at = now - SESSION_LIFE
    if now - asked_at >= SESSION_LIFE:
        raise SignInRefused(
            message("The company's sign-on has not asked you to prove who you are for too long."),
            next_step=message("Sign out there, then begin again on the page “Sign in”."),
        )
    return asked_at


def _provider(company: CompanySignOn, fetch: Fetch) -> Mapping[str, str]:
    from authlib.oidc.discovery import get_well_known_url

    found = fetch(get_well_known_url(company.issuer, external=True), None, {})
    wanted = ("authorization_endpoint", "token_endpoint", "jwks_uri")
    if not isinstance(found, dict) or found.get("issuer") != company.issuer:
        raise _strange(message("it does not describe itself as the issuer that was named"))
    if not all(isinstance(found.get(name), str) for name in wanted):
        raise _strange(message("its description lacks one of {names}", names=", ".join(wanted)))
    for name in wanted:
        _check_address(found[name])
    return found


def _claims(company: CompanySignOn, given: Any, keys: Any, nonce: str, now_s: float) -> Mapping[str, Any]:
    """The claims of the ID token, once its signature, issuer, audience, times and nonce hold."""
    from authlib.oidc.core import CodeIDToken
    from joserfc import jwt
    from joserfc.errors import JoseError
    from joserfc.jwk import KeySet

    options = {
        "iss": {"essential": True, "value": company.issuer},
        "aud": {"essential": True, "value": company.client_id},
        "nonce": {"essential": True, "value": nonce},
    }
    try:
        token = jwt.decode(given["id_token"], KeySet.import_key_set(keys), algorithms=list(ALGORITHMS))
        claims = CodeIDToken(
            token.claims,
            token.header,
            options,
            {"nonce": nonce, "client_id": company.client_id, "access_token": given.get("access_token")},
        )
        claims.validate(now=int(now_s), leeway=LEEWAY_S)
    except (JoseError, KeyError, TypeError, ValueError, AttributeError) as fault:
        raise SignInRefused(
            message("The company's sign-on gave a token that is not valid."),
            next_step=message("Begin again on the page “Sign in”; if it happens again, tell whoever runs the sign-on."),
        ) from fault
    return dict(claims)


def _named(company: CompanySignOn, claims: Mapping[str, Any]) -> str:
    if company.claim == "email" and claims.get("email_verified") is not True:
        raise SignInRefused(
            message("The company's sign-on has not verified your e-mail address."),
            next_step=message("Ask whoever runs it."),
        )
    named = claims.get(company.claim)
    return named if isinstance(named, str) else ""  # str(None) would be the name "None"


def _sha256(state: str) -> str:
    return hashlib.sha256(state.encode()).hexdigest()


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        """A provider that sends us elsewhere is not followed."""


def _fetch(address: str, fields: Mapping[str, str] | None, headers: Mapping[str, str]) -> Any:
    data = urlencode(fields).encode() if fields is not None else None
    asked = urllib.request.Request(address, data, {"Accept": "application/json", **headers})
    try:
        with urllib.request.build_opener(_NoRedirect).open(asked, timeout=TIMEOUT_S) as answer:
            body = answer.read(MOST_BYTES + 1)
        if len(body) > MOST_BYTES:
            raise _strange(message("its answer is too long"))
        return json.loads(body)
    except (OSError, ValueError) as fault:
        if isinstance(fault, urllib.error.HTTPError):
            fault.close()
            if fields is not None and fault.code == HTTPStatus.BAD_REQUEST:
                # RFC 6749, 5.2: the code was used before, is over, or was given to somebody else.
                raise SignInRefused(
                    message("The company's sign-on did not accept the answer that it gave to this browser."),
                    next_step=message("Begin again on the page “Sign in”."),
                ) from fault
        _log.warning("the company's sign-on: %s", fault)
        raise _strange(why_no_answer(fault)) from fault


def _strange(why: Text) -> SignOnUnreachable:
    return SignOnUnreachable(
        message("The company's sign-on could not be used: {why}.", why=why),
        next_step=message("Try again in a minute, or sign in with name and password."),
    )
