"""Tokens of programs that use the API. The token itself is never stored, only its SHA-256."""

import json
from dataclasses import dataclass
from datetime import datetime

from receiving.model import EVERYTHING, DataScope
from receiving.store.records import as_utc_text, from_utc_text
from receiving.store.tables import Row, Tables, read_scope, scope_columns


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
