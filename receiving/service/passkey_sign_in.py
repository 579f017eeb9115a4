"""Passkeys: a phone proves who holds it, by a key that never leaves it (W3C Web Authentication, level 3).

A challenge is made here, kept for five minutes, and answered once. A passkey is asked to know its holder (by finger,
face or the phone's code), and is bound to the host by which this service is opened.
"""

import hashlib
import json
import secrets
from datetime import timedelta

from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Access, Deed
from receiving.service.auditing import record, write_refusal
from receiving.service.context import Context
from receiving.service.own_account import check_fresh, get_own_account, own_person
from receiving.service.signing_in import MAX_NAME, SignedIn, SignInRefused, begin_session
from receiving.store import Passkey

ANSWER_WITHIN = timedelta(minutes=5)
MOST_PASSKEYS = 10
_ADD, _USE = "passkey added", "passkey used"


def offer_passkey_to_add(ctx: Context, access: Access, *, host: str) -> str:
    """What the browser needs to make a passkey for who is signed in (JSON). Raises NotFresh, BadRequest."""
    check_fresh(ctx, access)
    own = get_own_account(ctx, access)
    person, known = own.person, own.passkeys
    if len(known) >= MOST_PASSKEYS:
        raise BadRequest(
            message("There are {number} passkeys already.", number=len(known)),
            next_step=message("Remove one that is not used any more."),
        )
    challenge = _challenge(ctx, _ADD, person.person_id)
    options = generate_registration_options(
        rp_id=host,
        rp_name="Receiving",
        user_name=person.name,
        user_id=person.person_id.encode(),
        challenge=challenge,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED, user_verification=UserVerificationRequirement.REQUIRED
        ),
        exclude_credentials=[PublicKeyCredentialDescriptor(base64url_to_bytes(each.credential_id)) for each in known],
    )
    return options_to_json(options)


def add_passkey(ctx: Context, access: Access, credential: str, *, label: str, host: str, origin: str) -> None:
    """Keep the passkey that the browser made. Raises NotFresh, BadRequest for a wrong answer, Conflict."""
    check_fresh(ctx, access)
    person = own_person(ctx, access)
    challenge = _answered(credential)
    if _take(ctx, _ADD, challenge) != person.person_id:
        raise _unusable()
    try:
        made = verify_registration_response(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=host,
            expected_origin=origin,
            require_user_verification=True,
        )
    except (WebAuthnException, ValueError, KeyError, TypeError) as fault:
        raise _unusable() from fault
    passkey = Passkey(
        credential_id=bytes_to_base64url(made.credential_id),
        person_id=person.person_id,
        public_key=bytes_to_base64url(made.credential_public_key),
        sign_count=made.sign_count,
        label=" ".join(label.split())[:MAX_NAME] or "Passkey",
        created_at=ctx.clock(),
    )
    with ctx.transaction() as store:
        store.add_passkey(passkey)
        record(ctx, store, Deed.PASSKEY_ADDED, about=person.name)


def remove_passkey(ctx: Context, access: Access, credential_id: str) -> None:
    """Forget a passkey of who is signed in. Raises NotFresh."""
    check_fresh(ctx, access)
    person = own_person(ctx, access)
    with ctx.transaction() as store:
        store.remove_passkey(person.person_id, credential_id)
        record(ctx, store, Deed.PASSKEY_REMOVED, about=person.name)


def offer_passkey_to_use(ctx: Context, *, host: str) -> str:
    """What the browser needs to sign in with any passkey that it has for this service (JSON)."""
    options = generate_authentication_options(
        rp_id=host, challenge=_challenge(ctx, _USE, ""), user_verification=UserVerificationRequirement.REQUIRED
    )
    return options_to_json(options)


def sign_in_by_passkey(
    ctx: Context, credential: str, *, host: str, origin: str, instead_of: Access | None = None
) -> SignedIn:
    """Begin a session of who holds this passkey, ``instead_of`` this browser's. Raises SignInRefused."""
    challenge = _answered(credential)
    with ctx.store() as store:
        known = store.passkey(str(json.loads(credential).get("id", "")))
        about = store.person(known.person_id).name if known else ""
    try:
        return _sign_in(ctx, credential, challenge, known, host=host, origin=origin, instead_of=instead_of)
    except SignInRefused:
        write_refusal(ctx, Deed.SIGN_IN_REFUSED, about=about, detail="passkey")
        raise


def _sign_in(
    ctx: Context,
    credential: str,
    challenge: bytes,
    known: Passkey | None,
    *,
    host: str,
    origin: str,
    instead_of: Access | None,
) -> SignedIn:
    if _take(ctx, _USE, challenge) is None or known is None or _handle(credential) not in ("", known.person_id):
        raise _refused()
    try:
        used = verify_authentication_response(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=host,
            expected_origin=origin,
            credential_public_key=base64url_to_bytes(known.public_key),
            credential_current_sign_count=known.sign_count,
            require_user_verification=True,
        )
    except (WebAuthnException, ValueError, KeyError, TypeError) as fault:
        raise _refused() from fault
    with ctx.transaction() as store:
        person = store.person(known.person_id)
        if not person.active:
            raise _refused()
        store.use_passkey(known.credential_id, used.new_sign_count, ctx.clock())
        return begin_session(ctx, store, person, instead_of, way="passkey")


def _challenge(ctx: Context, purpose: str, body: str) -> bytes:
    challenge, now = secrets.token_bytes(32), ctx.clock()
    with ctx.transaction() as store:
        store.add_challenge(_sha256(challenge), purpose, body, now=now, until=now + ANSWER_WITHIN)
    return challenge


def _take(ctx: Context, purpose: str, challenge: bytes) -> str | None:
    with ctx.transaction() as store:
        return store.take_challenge(_sha256(challenge), purpose, ctx.clock())


def _answered(credential: str) -> bytes:
    """The challenge that the browser says it answered; what it signed is verified afterwards."""
    try:
        data = json.loads(base64url_to_bytes(json.loads(credential)["response"]["clientDataJSON"]))
        return base64url_to_bytes(data["challenge"])
    except (ValueError, KeyError, TypeError) as fault:
        raise _unusable() from fault


def _handle(credential: str) -> str:
    """Whose the authenticator says that the passkey is, as it was told when it was made (7.2, step 6); may be empty."""
    try:
        return base64url_to_bytes(json.loads(credential)["response"].get("userHandle") or "").decode()
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise _unusable() from fault


def _sha256(challenge: bytes) -> str:
    return hashlib.sha256(challenge).hexdigest()


def _unusable() -> BadRequest:
    return BadRequest(
        message("This passkey could not be accepted."), next_step=message("Try once more, within five minutes.")
    )


def _refused() -> SignInRefused:
    return SignInRefused(
        message("This passkey does not open an account here."),
        next_step=message("Sign in with name and password, and add it there."),
    )
