"""People, their sessions and links, tokens of programs, and failed sign-ins."""

import json
from dataclasses import dataclass
from datetime import datetime

from receiving.errors import Conflict, NotFound
from receiving.messages import message
from receiving.model import EVERYTHING, DataScope, Person, Role, ShipmentLink
from receiving.store.audit import AuditTables
from receiving.store.records import as_utc_text, from_utc_text
from receiving.store.tables import Row, Tables, read_scope, scope_columns


@dataclass(frozen=True)
class SessionRecord:
    """One sign-in: of a person, or of a link. The token itself is never stored, only its SHA-256."""

    token_sha256: str
    person_id: str
    link_id: str
    created_at: datetime
    seen_at: datetime
    expires_at: datetime


class PeopleTables(AuditTables):
    """Accounts and access. Nothing here is deleted but sessions that are over: who did what must stay tellable."""

    def add_person(self, person: Person, password_hash: str, *, first_until: datetime | None = None) -> None:
        """Add an account; raises Conflict where the name is taken, whatever its case. ``first_until``: see there."""
        with self._writing():
            if self._rows("SELECT 1 FROM people WHERE name_key = ?", person.name.casefold()):
                raise Conflict(
                    message("There is an account {name} already.", name=repr(person.name)),
                    next_step=message("Choose another name."),
                    field="name",
                )
            self._db.execute(
                "INSERT INTO people (person_id, name, name_key, role, stores, programmes, password_hash, created_at) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    person.person_id,
                    person.name,
                    person.name.casefold(),
                    person.role,
                    *scope_columns(person.scope),
                    password_hash,
                    as_utc_text(person.created_at),
                ],
            )
            self._renew_digest("people", "person_id", person.person_id)
            self._set_first(person.person_id, first_until)

    def people(self) -> tuple[Person, ...]:
        """All accounts by name, disabled ones too."""
        return tuple(map(_person, self._rows("SELECT * FROM people ORDER BY name_key")))

    def has_people(self) -> bool:
        """True once there is an account."""
        return bool(self._rows("SELECT 1 FROM people LIMIT 1"))

    def person(self, person_id: str) -> Person:
        """The account with this id; raises NotFound."""
        rows = self._rows("SELECT * FROM people WHERE person_id = ?", person_id)
        if not rows:
            raise NotFound(
                message("There is no such account."), next_step=message("Choose one from the list of people.")
            )
        return _person(rows[0])

    def credentials(self, name: str) -> tuple[Person, str] | None:
        """The active account of this name with the hash of its password, or None."""
        rows = self._rows("SELECT * FROM people WHERE name_key = ? AND disabled_at IS NULL", name.casefold())
        return (_person(rows[0]), rows[0]["password_hash"]) if rows else None

    def account_named(self, name: str) -> Person | None:
        """The account of this name, whatever its case, closed or not; None where there is none."""
        rows = self._rows("SELECT * FROM people WHERE name_key = ?", name.casefold())
        return _person(rows[0]) if rows else None

    def first_password_until(self, person_id: str) -> datetime | None:
        """Until when the password, which somebody else made, lets the person choose his own; None where it is his."""
        rows = self._rows("SELECT until FROM first_passwords WHERE person_id = ?", person_id)
        return from_utc_text(rows[0]["until"]) if rows else None

    def _set_first(self, person_id: str, until: datetime | None) -> None:
        self._db.execute("DELETE FROM first_passwords WHERE person_id = ?", [person_id])
        if until:
            self._db.execute("INSERT INTO first_passwords VALUES (?, ?)", [person_id, as_utc_text(until)])

    def set_password(self, person_id: str, password_hash: str, *, first_until: datetime | None = None) -> None:
        """Replace a password and end the person's sessions. ``first_until``: somebody else knows it."""
        with self._writing():
            self._db.execute("UPDATE people SET password_hash = ? WHERE person_id = ?", [password_hash, person_id])
            self._set_first(person_id, first_until)
            self._renew_digest("people", "person_id", person_id)
            self._db.execute("DELETE FROM sessions WHERE person_id = ?", [person_id])

    def renew_hash(self, person_id: str, old: str, new: str) -> None:
        """Put a hash of the same password in place of an old one, where it is still that; sessions go on."""
        with self._writing():
            self._db.execute(
                "UPDATE people SET password_hash = ? WHERE person_id = ? AND password_hash = ?", [new, person_id, old]
            )
            self._renew_digest("people", "person_id", person_id)

    def change_person(self, person_id: str, role: Role, scope: DataScope) -> None:
        """Give an account another role or scope; its sessions go on with these."""
        with self._writing():
            self._db.execute(
                "UPDATE people SET role = ?, stores = ?, programmes = ? WHERE person_id = ?",
                [role, *scope_columns(scope), person_id],
            )
            self._renew_digest("people", "person_id", person_id)

    def disable_person(self, person_id: str, at: datetime | None) -> None:
        """Close an account and end its sessions; None opens it again."""
        with self._writing():
            closed = as_utc_text(at) if at else None
            self._db.execute("UPDATE people SET disabled_at = ? WHERE person_id = ?", [closed, person_id])
            self._renew_digest("people", "person_id", person_id)
            self._db.execute("DELETE FROM sessions WHERE person_id = ?", [person_id])

    def add_session(self, session: SessionRecord) -> None:
        """Record a sign-in, and forget sessions that are over."""
        with self._writing():
            self._db.execute("DELETE FROM sessions WHERE expires_at < ?", [as_utc_text(session.created_at)])
            self._db.execute(
                "INSERT INTO sessions (token_sha256, person_id, link_id, created_at, seen_at, expires_at) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                [
                    session.token_sha256,
                    session.person_id or None,
                    session.link_id or None,
                    as_utc_text(session.created_at),
                    as_utc_text(session.seen_at),
                    as_utc_text(session.expires_at),
                ],
            )

    def session(self, token_sha256: str) -> SessionRecord | None:
        """The session of this token, whether it is over or not."""
        rows = self._rows("SELECT * FROM sessions WHERE token_sha256 = ?", token_sha256)
        return _session(rows[0]) if rows else None

    def touch_session(self, token_sha256: str, at: datetime) -> None:
        """Record that this session was used."""
        with self._writing():
            self._db.execute("UPDATE sessions SET seen_at = ? WHERE token_sha256 = ?", [as_utc_text(at), token_sha256])

    def sessions(self, person_id: str) -> tuple[SessionRecord, ...]:
        """The sessions of a person that were not ended, the one used last first."""
        rows = self._rows("SELECT * FROM sessions WHERE person_id = ? ORDER BY seen_at DESC", person_id)
        return tuple(map(_session, rows))

    def end_other_sessions(self, person_id: str, but: str) -> int:
        """Forget a person's sessions but this one; gives how many."""
        with self._writing():
            sql = "DELETE FROM sessions WHERE person_id = ? AND token_sha256 <> ?"
            return self._db.execute(sql, [person_id, but]).rowcount

    def end_session(self, token_sha256: str) -> bool:
        """Forget this session; true where there was one."""
        with self._writing():
            return self._db.execute("DELETE FROM sessions WHERE token_sha256 = ?", [token_sha256]).rowcount > 0

    def add_link(self, link: ShipmentLink, token_sha256: str) -> None:
        """Record a link to one shipment."""
        with self._writing_for(link.shipment):
            self._db.execute(
                "INSERT INTO links (link_id, token_sha256, shipment, label, created_by, created_at, expires_at) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                [
                    link.link_id,
                    token_sha256,
                    link.shipment,
                    link.label,
                    link.created_by,
                    as_utc_text(link.created_at),
                    as_utc_text(link.expires_at),
                ],
            )

    def links(self, shipment: str) -> tuple[ShipmentLink, ...]:
        """All links to this shipment, the newest first."""
        rows = self._rows("SELECT * FROM links WHERE shipment = ? ORDER BY created_at DESC", shipment)
        return tuple(map(_link, rows))

    def open_link_labelled(self, label: str, now: datetime) -> ShipmentLink | None:
        """A link that is open now, by which somebody comes under this name, whatever its case; or None."""
        rows = self._rows("SELECT * FROM links WHERE revoked_at IS NULL AND expires_at > ?", as_utc_text(now))
        return next((link for link in map(_link, rows) if link.label.casefold() == label.casefold()), None)

    def link_of_token(self, token_sha256: str) -> ShipmentLink | None:
        """The link of this token, or None."""
        rows = self._rows("SELECT * FROM links WHERE token_sha256 = ?", token_sha256)
        return _link(rows[0]) if rows else None

    def link(self, link_id: str) -> ShipmentLink | None:
        """The link with this id, or None."""
        rows = self._rows("SELECT * FROM links WHERE link_id = ?", link_id)
        return _link(rows[0]) if rows else None

    def revoke_link(self, link_id: str, at: datetime) -> None:
        """End a link and all sessions that came by it."""
        with self._writing():
            self._db.execute(
                "UPDATE links SET revoked_at = ? WHERE link_id = ? AND revoked_at IS NULL", [as_utc_text(at), link_id]
            )
            self._db.execute("DELETE FROM sessions WHERE link_id = ?", [link_id])

    def add_failed_sign_in(self, name: str, address: str, at: datetime, *, forget_before: datetime) -> None:
        """Record a sign-in that was refused, and forget old ones."""
        with self._writing():
            self._db.execute("DELETE FROM failed_sign_ins WHERE at < ?", [as_utc_text(forget_before)])
            self._db.execute(
                "INSERT INTO failed_sign_ins (name_key, address, at) VALUES (?, ?, ?)",
                [name.casefold(), address, as_utc_text(at)],
            )

    def failed_sign_ins(self, address: str, since: datetime) -> tuple[tuple[str, datetime], ...]:
        """(name in lower case, when) of the sign-ins that were refused to this address, oldest first."""
        rows = self._rows(
            "SELECT name_key, at FROM failed_sign_ins WHERE address = ? AND at >= ? ORDER BY at",
            address,
            as_utc_text(since),
        )
        return tuple((row["name_key"], from_utc_text(row["at"])) for row in rows)

    def forget_failed_sign_ins(self, name: str, address: str) -> None:
        """A right password ends the count of wrong ones for this name at this address."""
        with self._writing():
            self._db.execute(
                "DELETE FROM failed_sign_ins WHERE name_key = ? AND address = ?", [name.casefold(), address]
            )

    def secret(self, name: str, made: str) -> str:
        """A secret of this service by name; ``made`` becomes it where there is none yet."""
        with self._writing():
            self._db.execute("INSERT INTO secrets (name, value) VALUES (?, ?) ON CONFLICT DO NOTHING", [name, made])
            return str(self._rows("SELECT value FROM secrets WHERE name = ?", name)[0]["value"])


def _person(row: Row) -> Person:
    return Person(
        person_id=row["person_id"],
        name=row["name"],
        role=Role(row["role"]),
        scope=read_scope(row),
        created_at=from_utc_text(row["created_at"]),
        disabled_at=from_utc_text(row["disabled_at"]) if row["disabled_at"] else None,
        has_pin=bool(row["pin_hash"]),
        subject=row["subject"] or "",
    )


def _session(row: Row) -> SessionRecord:
    return SessionRecord(
        token_sha256=row["token_sha256"],
        person_id=row["person_id"] or "",
        link_id=row["link_id"] or "",
        created_at=from_utc_text(row["created_at"]),
        seen_at=from_utc_text(row["seen_at"]),
        expires_at=from_utc_text(row["expires_at"]),
    )


def _link(row: Row) -> ShipmentLink:
    return ShipmentLink(
        link_id=row["link_id"],
        shipment=row["shipment"],
        label=row["label"],
        created_by=row["created_by"],
        created_at=from_utc_text(row["created_at"]),
        expires_at=from_utc_text(row["expires_at"]),
        revoked_at=from_utc_text(row["revoked_at"]) if row["revoked_at"] else None,
    )


# Tokens of programs that use the API. The token itself is never stored, only its SHA-256.


@dataclass(frozen=True)
class ApiToken:
    """A token: what it is for, what it may do (``scopes``) and see, who made it, and when it was ended."""

    token_id: str
    name: str
    scopes: frozenset[str]
    created_at: datetime
    created_by: str
    revoked_at: datetime | None = None
    sees: DataScope = EVERYTHING


class TokenTables(Tables):
    """Tokens of the API; one that was ended stays, so that what it did can be told."""

    def add_api_token(self, token: ApiToken, token_sha256: str) -> None:
        """Add a token."""
        with self._writing():
            self._db.execute(
                "INSERT INTO api_tokens (token_id, token_sha256, name, scopes, created_at, created_by, stores,"
                " programmes) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    token.token_id,
                    token_sha256,
                    token.name,
                    json.dumps(sorted(token.scopes)),
                    as_utc_text(token.created_at),
                    token.created_by,
                    *scope_columns(token.sees),
                ],
            )

    def api_tokens(self) -> tuple[ApiToken, ...]:
        """All tokens, the newest first."""
        return tuple(map(_token, self._rows("SELECT * FROM api_tokens ORDER BY created_at DESC, token_id")))

    def api_token(self, token_sha256: str) -> ApiToken | None:
        """The token with this digest, where there is one."""
        rows = self._rows("SELECT * FROM api_tokens WHERE token_sha256 = ?", token_sha256)
        return _token(rows[0]) if rows else None

    def revoke_api_token(self, token_id: str, at: datetime) -> bool:
        """End a token; False where there is none that could be ended."""
        with self._writing():
            done = self._db.execute(
                "UPDATE api_tokens SET revoked_at = ? WHERE token_id = ? AND revoked_at IS NULL",
                [as_utc_text(at), token_id],
            )
            return bool(done.rowcount)


def _token(row: Row) -> ApiToken:
    return ApiToken(
        row["token_id"],
        row["name"],
        frozenset(json.loads(row["scopes"])),
        from_utc_text(row["created_at"]),
        row["created_by"],
        from_utc_text(row["revoked_at"]) if row["revoked_at"] else None,
        read_scope(row),
    )
