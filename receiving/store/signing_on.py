"""Other ways to prove who somebody is: passkeys, PINs, a company's sign-on, and what was asked once."""

from dataclasses import dataclass
from datetime import datetime

from receiving.errors import Conflict
from receiving.messages import message
from receiving.model import Person
from receiving.store.people import PeopleTables
from receiving.store.records import as_utc_text, from_utc_text
from receiving.store.tables import Row


@dataclass(frozen=True)
class Passkey:
    """A public key that a person's device holds the private half of; ids and keys in base64url."""

    credential_id: str
    person_id: str
    public_key: str
    sign_count: int
    label: str
    created_at: datetime
    used_at: datetime | None = None


class SignOnTables(PeopleTables):
    """Passkeys, PINs, accounts of a sign-on, and challenges."""

    def add_passkey(self, passkey: Passkey) -> None:
        """Add a passkey; raises Conflict where it belongs to somebody already."""
        with self._writing():
            if self.passkey(passkey.credential_id):
                raise Conflict(
                    message("This passkey is known already."),
                    next_step=message("Sign in with it, or make another one."),
                )
            self._db.execute(
                "INSERT INTO passkeys (credential_id, person_id, public_key, sign_count, label, created_at)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                [
                    passkey.credential_id,
                    passkey.person_id,
                    passkey.public_key,
                    passkey.sign_count,
                    passkey.label,
                    as_utc_text(passkey.created_at),
                ],
            )

    def passkey(self, credential_id: str) -> Passkey | None:
        """The passkey with this id, or None."""
        rows = self._rows("SELECT * FROM passkeys WHERE credential_id = ?", credential_id)
        return _passkey(rows[0]) if rows else None

    def passkeys(self, person_id: str) -> tuple[Passkey, ...]:
        """A person's passkeys, oldest first."""
        rows = self._rows("SELECT * FROM passkeys WHERE person_id = ? ORDER BY created_at", person_id)
        return tuple(map(_passkey, rows))

    def use_passkey(self, credential_id: str, sign_count: int, at: datetime) -> None:
        """Record that it was used, and how often its device says that it was."""
        with self._writing():
            self._db.execute(
                "UPDATE passkeys SET sign_count = ?, used_at = ? WHERE credential_id = ?",
                [sign_count, as_utc_text(at), credential_id],
            )

    def remove_passkey(self, person_id: str, credential_id: str) -> None:
        """Forget a passkey of this person."""
        with self._writing():
            sql = "DELETE FROM passkeys WHERE person_id = ? AND credential_id = ?"
            self._db.execute(sql, [person_id, credential_id])

    def pin_hash(self, person_id: str) -> str:
        """The hash of a person's PIN; empty where there is none."""
        rows = self._rows("SELECT pin_hash FROM people WHERE person_id = ?", person_id)
        return str(rows[0]["pin_hash"]) if rows else ""

    def set_pin(self, person_id: str, pin_hash: str) -> None:
        """Replace a person's PIN; an empty hash takes it away."""
        with self._writing():
            self._db.execute("UPDATE people SET pin_hash = ? WHERE person_id = ?", [pin_hash, person_id])
            self._renew_digest("people", "person_id", person_id)

    def set_subject(self, person_id: str, subject: str) -> None:
        """Say what a company's sign-on calls this person; raises Conflict where it calls somebody else so."""
        with self._writing():
            sql = "SELECT 1 FROM people WHERE subject = ? AND person_id <> ?"
            if subject and self._rows(sql, subject, person_id):
                raise Conflict(
                    message("The sign-on calls another account {subject} already.", subject=repr(subject)),
                    next_step=message("Take it away there first."),
                    field="subject",
                )
            self._db.execute("UPDATE people SET subject = ? WHERE person_id = ?", [subject or None, person_id])
            self._renew_digest("people", "person_id", person_id)

    def person_of_subject(self, subject: str) -> Person | None:
        """The active account that a company's sign-on calls so, or None."""
        rows = self._rows("SELECT person_id FROM people WHERE subject = ? AND disabled_at IS NULL", subject)
        return self.person(rows[0]["person_id"]) if rows else None

    def add_challenge(self, challenge_sha256: str, purpose: str, body: str, *, now: datetime, until: datetime) -> None:
        """Keep what may be answered once until this time, and forget what was not."""
        with self._writing():
            self._db.execute("DELETE FROM challenges WHERE expires_at < ?", [as_utc_text(now)])
            self._db.execute(
                "INSERT INTO challenges (challenge_sha256, purpose, body, expires_at) VALUES (?, ?, ?, ?)",
                [challenge_sha256, purpose, body, as_utc_text(until)],
            )

    def take_challenge(self, challenge_sha256: str, purpose: str, now: datetime) -> str | None:
        """What was kept for this challenge, which is over with that; None where it is over already."""
        with self._writing():
            where = "WHERE challenge_sha256 = ? AND purpose = ? AND expires_at >= ?"
            rows = self._rows(f"SELECT body FROM challenges {where}", challenge_sha256, purpose, as_utc_text(now))
            self._db.execute("DELETE FROM challenges WHERE challenge_sha256 = ?", [challenge_sha256])
        return str(rows[0]["body"]) if rows else None


def _passkey(row: Row) -> Passkey:
    return Passkey(
        credential_id=row["credential_id"],
        person_id=row["person_id"],
        public_key=row["public_key"],
        sign_count=row["sign_count"],
        label=row["label"],
        created_at=from_utc_text(row["created_at"]),
        used_at=from_utc_text(row["used_at"]) if row["used_at"] else None,
    )
