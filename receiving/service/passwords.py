"""What a password must be, how it is hashed, and the first one that somebody is given.

Passwords and PINs are hashed with argon2id (RFC 9106, second recommended choice: 64 MiB, 3 passes).
"""

import hashlib
import secrets
from datetime import timedelta
from functools import cache
from pathlib import Path

from receiving.errors import BadRequest
from receiving.messages import Text, message, plural

LEAST_PASSWORD, MOST_PASSWORD = 12, 200
COMMON = Path(__file__).with_name("common_passwords.txt")
"""Digests of the 10,000 commonest passwords of 12 characters or more (SecLists, MIT; its licence lies beside it)."""
_DIGITS = 12
_LEAST_DIFFERENT = 5

FIRST_LIFE = timedelta(days=3)
"""For how long a first password lets somebody in to choose his own."""
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""No letter that looks like another one: a first password is read out or typed from paper."""


def check_password(password: str, name: str) -> None:
    """Raises BadRequest for a password that is too short, too long, or easily guessed (NIST SP 800-63B, 5.1.1.2)."""
    wrong: Text = ""
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        wrong = plural(len(password), "The password has {number} character.", "The password has {number} characters.")
    elif is_repeating(password):
        wrong = message("The password repeats a few characters.")
    elif name.casefold() in password.casefold():
        wrong = message("The password contains the name.")
    elif common_digest(password) in _common():
        wrong = message("The password is one of those that are tried first.")
    if wrong:
        raise BadRequest(
            wrong,
            next_step=message(
                "Choose {least} to {most} characters, for example four words.",
                least=LEAST_PASSWORD,
                most=MOST_PASSWORD,
            ),
            field="new",
        )


def is_repeating(password: str) -> bool:
    """It is made of a few characters alone.

    >>> is_repeating("abababababab"), is_repeating("four plain words")
    (True, False)
    """
    return len(set(password.casefold())) < _LEAST_DIFFERENT


def common_digest(password: str) -> str:
    """How a common password is written down: the first digits of its SHA-256, whatever its case."""
    return hashlib.sha256(password.casefold().encode("utf-8", "surrogatepass")).hexdigest()[:_DIGITS]


@cache
def _common() -> frozenset[str]:
    return frozenset(COMMON.read_text().split())


def make_first_password() -> str:
    """A password of 79 random bits for somebody else, who replaces it when he signs in.

    >>> len(make_first_password()), make_first_password() == make_first_password()
    (19, False)
    """
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(4))


def hash_secret(secret: str) -> str:
    """The argon2id hash of a password or PIN."""
    from argon2 import PasswordHasher

    return PasswordHasher().hash(secret)


def is_secret(hashed: str, secret: str) -> bool:
    """True when this secret has that hash; an empty hash is nobody's and takes as long."""
    from argon2 import PasswordHasher
    from argon2.exceptions import VerificationError

    try:
        return PasswordHasher().verify(hashed or _hash_of_nobody(), secret) and bool(hashed)
    except VerificationError:
        return False


@cache
def _hash_of_nobody() -> str:
    return hash_secret(secrets.token_urlsafe(16))
