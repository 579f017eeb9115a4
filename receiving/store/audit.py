"""The audit log: each line holds the digest of the one before, and refused sign-ins under a flood share lines."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from receiving.model import AUDIT_KINDS, AuditKind, AuditLine, AuditWanted, Deed
from receiving.store.records import as_utc_text, from_utc_text, is_chained, row_digest
from receiving.store.tables import Row, Tables

MOST_COUNTED = 100
"""Counts of refusals at a time, each of one kind, address and account; further ones share a count without these."""
_COLUMNS = ("name", "role", "action", "shipment", "store", "status", "address", "request_id", "about", "detail")

AUDIT_CHAIN_SCHEMA = (
    "ALTER TABLE audit ADD COLUMN about TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE audit ADD COLUMN detail TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE audit ADD COLUMN times INTEGER NOT NULL DEFAULT 1",
    "ALTER TABLE audit ADD COLUMN previous TEXT NOT NULL DEFAULT ''",
    "CREATE INDEX audit_by_name ON audit (name, seq)",
    "CREATE INDEX audit_by_about ON audit (about, seq) WHERE about <> ''",
    "CREATE INDEX audit_by_deed ON audit (action, seq) WHERE status = 0",
    """CREATE TABLE refusals (
        deed TEXT NOT NULL,
        address TEXT NOT NULL,
        about TEXT NOT NULL,
        detail TEXT NOT NULL,
        since TEXT NOT NULL,
        times INTEGER NOT NULL,
        written INTEGER NOT NULL,
        PRIMARY KEY (deed, address, about)
    ) STRICT, WITHOUT ROWID""",
)
"""What a migration adds to the log, and counts of refusals that are not yet written there."""


class AuditTables(Tables):
    """Lines are added and read; nothing alters or removes one but the erasing of a name."""

    def add_audit(self, lines: Iterable[AuditLine]) -> None:
        """Record who saw and did what, each line chained to the one before."""
        with self._writing():
            rows = self._rows("SELECT seq, digest FROM audit ORDER BY seq DESC LIMIT 1")
            last, previous = (int(rows[0]["seq"]), str(rows[0]["digest"])) if rows else (0, "")
            for seq, line in enumerate(lines, last + 1):
                row = {"seq": seq, "previous": previous, **_audit_row(line)}
                self._insert("audit", row)
                previous = row_digest("audit", row)

    def audit(self, wanted: AuditWanted) -> tuple[AuditLine, ...]:
        """The newest lines first."""
        where, values = _where(wanted)
        rows = self._rows(f"SELECT * FROM audit WHERE {where} ORDER BY seq DESC LIMIT ?", *values, wanted.most)
        return tuple(map(_audit_line, rows))

    def count_refusal(self, line: AuditLine, network: str, *, forget_before: datetime) -> None:
        """Write a refusal down, or count it: the first five of a kind, address and account have a line each.

        Of further ones there is a line at each doubling. What is counted and not written yet is written once its
        count began before ``forget_before``.
        """
        with self._writing():
            if self._rows("SELECT 1 FROM refusals WHERE since < ?", as_utc_text(forget_before)):
                self.write_refusals(line.at, forget_before)
            key = [line.action, network, line.about]
            known = "SELECT * FROM refusals WHERE deed = ? AND address = ? AND about = ?"
            rows = self._rows(known, *key)
            if not rows and int(self._rows("SELECT count(*) AS n FROM refusals")[0]["n"]) >= MOST_COUNTED:
                key = [line.action, "", ""]
                rows = self._rows(known, *key)
            times, written = (rows[0]["times"] + 1, rows[0]["written"]) if rows else (1, 0)
            if times <= 5 or times >= 2 * written:
                own = (key[1], key[2]) == (network, line.about)
                address, about = (line.address, line.about) if own else ("", "")
                self.add_audit([replace(line, address=address, about=about, times=times - written)])
                written = times
            self._db.execute(
                "INSERT INTO refusals VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (deed, address, about)"
                " DO UPDATE SET times = excluded.times, written = excluded.written",
                [*key, line.detail, as_utc_text(line.at), times, written],
            )

    def write_refusals(self, at: datetime, forget_before: datetime) -> None:
        """Write down what was counted and has no line yet; what began before ``forget_before`` is counted anew."""
        with self._writing():
            left = self._rows("SELECT * FROM refusals WHERE times > written ORDER BY since")
            self.add_audit(
                AuditLine(
                    *(at, "", "", row["deed"], "", "", 0, row["address"], ""),
                    about=row["about"],
                    detail=row["detail"],
                    times=row["times"] - row["written"],
                )
                for row in left
            )
            self._db.execute("UPDATE refusals SET written = times")
            self._db.execute("DELETE FROM refusals WHERE since < ?", [as_utc_text(forget_before)])

    def chain_audit_anew(self) -> None:
        """Chain the lines again after a name was taken out of some; their guards must be off."""
        previous, chained = "", False
        for row in self._rows("SELECT * FROM audit ORDER BY seq"):
            chained = chained or is_chained(str(row["digest"]))
            if chained:
                row["previous"] = previous
                digest = row_digest("audit", row)
                if digest != row["digest"]:
                    sql = "UPDATE audit SET previous = ?, digest = ? WHERE seq = ?"
                    self._db.execute(sql, [previous, digest, row["seq"]])
                previous = digest
            else:
                previous = str(row["digest"])


def _where(wanted: AuditWanted) -> tuple[str, list[object]]:
    parts, values = ["1"], list[object]()
    if wanted.shipment:
        parts.append("shipment = ?")
        values.append(wanted.shipment)
    if wanted.person:
        parts.append("(name = ? OR (about = ? AND about <> ''))")
        values += [wanted.person, wanted.person]
    if wanted.before:
        parts.append("seq < ?")
        values.append(wanted.before)
    if wanted.kind is AuditKind.VIEWS:
        parts.append("status <> 0 AND (action GLOB 'GET *' OR action GLOB 'HEAD *')")
    elif wanted.kind is AuditKind.CHANGES:
        parts.append("status <> 0 AND action NOT GLOB 'GET *' AND action NOT GLOB 'HEAD *'")
    elif wanted.kind:
        deeds: list[Deed] = sorted(AUDIT_KINDS[wanted.kind])
        parts.append(f"status = 0 AND action IN ({', '.join('?' * len(deeds))})")
        values += deeds
    return " AND ".join(parts), values


def _audit_line(row: Row) -> AuditLine:
    held = {name: row[name] for name in (*_COLUMNS, "times", "seq")}
    return AuditLine(at=from_utc_text(row["at"]), **held)


def _audit_row(line: AuditLine) -> Row:
    held = {name: str(getattr(line, name)) if name != "status" else line.status for name in _COLUMNS}
    return {"at": as_utc_text(line.at), "times": line.times, **held}
