"""The page of a person's own account."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.errors import ReceivingError
from receiving.messages import Message, Text, message
from receiving.model import Role
from receiving.service import OwnAccount, Passkey, SessionRecord
from web.pages.people import ROLE_WORDS, scope_words
from web.pages.problem import Trouble, trouble_of
from web.pages.words import moment_words


@dataclass(frozen=True)
class PasskeyRow:
    """One passkey."""

    credential_id: str
    label: str
    words: Text


@dataclass(frozen=True)
class AccountPage:
    """Who is signed in, and what he may change. ``fresh``: he signed in just now, so he may change how he does."""

    template: ClassVar[str] = "account.html"
    title: ClassVar[Text] = message("Your account")

    name: str
    role: Text
    scope: Text
    passkeys: tuple[PasskeyRow, ...]
    can_add: bool
    sessions: tuple[Text, ...]
    asks_pin: bool
    has_pin: bool
    fresh: bool
    company: str
    trouble: Trouble | None


def account_page(
    own: OwnAccount,
    here: str,
    now: datetime,
    fault: ReceivingError | None,
    *,
    can_add: bool,
    company: str,
) -> AccountPage:
    """The account; ``here`` is the session of this browser, ``can_add``: a passkey can be made under this address."""
    person = own.person
    return AccountPage(
        name=person.name,
        role=ROLE_WORDS[person.role],
        scope=scope_words(person.scope),
        passkeys=tuple(PasskeyRow(each.credential_id, each.label, _passkey_words(each, now)) for each in own.passkeys),
        can_add=can_add,
        sessions=tuple(_session_words(each, here, now) for each in own.sessions),
        asks_pin=person.role is Role.STORE_MANAGER,
        has_pin=person.has_pin,
        fresh=own.fresh,
        company=company,
        trouble=trouble_of(fault),
    )


def _passkey_words(passkey: Passkey, now: datetime) -> Message:
    made = moment_words(passkey.created_at, now)
    if passkey.used_at:
        return message("made {made}, used last {used}", made=made, used=moment_words(passkey.used_at, now))
    return message("made {made}, not used yet", made=made)


def _session_words(session: SessionRecord, here: str, now: datetime) -> Message:
    since, used = moment_words(session.created_at, now), moment_words(session.seen_at, now)
    if session.token_sha256 == here:
        return message("Since {since}, used last {used} (this browser)", since=since, used=used)
    return message("Since {since}, used last {used}", since=since, used=used)
