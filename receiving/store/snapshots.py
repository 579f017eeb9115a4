"""What changed of a shipment since it was last looked at, so that only that is read again."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from receiving.model import RawRead
from receiving.store.records import DocumentKind, from_text
from receiving.store.tables import Tables

PhotoMark = tuple[str, str, str, int]
"""A photo's id, status, error, and the length of its reading (-1: none): another mark, another state."""


@dataclass(frozen=True)
class Stamps:
    """Numbers that grow with what a shipment follows from; equal numbers, equal content.

    ``read`` and ``note`` are those of its last read and note, ``layout`` and ``requests`` of the last of its store,
    ``patterns`` and ``parts`` of the master data of all; 0 where there is none.
    ``erasures`` grows when a name is taken out of rows that are there already.
    """

    read: int
    note: int
    layout: int
    patterns: int
    requests: int
    parts: int
    erasures: int = 0


class SnapshotTables(Tables):
    """The parts of a shipment by the order in which they came in."""

    def stamps(self, shipment: str, store_id: str) -> Stamps:
        """The numbers of what this shipment, at this store, follows from."""
        row = self._rows(
            "SELECT ifnull((SELECT max(seq) FROM reads WHERE shipment = ?1), 0) AS read,"
            " ifnull((SELECT max(seq) FROM notes WHERE shipment = ?1), 0) AS note,"
            " ifnull((SELECT max(seq) FROM documents WHERE kind = ?3 AND key = ?2), 0) AS layout,"
            " ifnull((SELECT max(seq) FROM documents WHERE kind = ?4 AND key = ''), 0) AS patterns,"
            " ifnull((SELECT max(seq) FROM documents WHERE kind = ?5 AND key = ?2), 0) AS requests,"
            " ifnull((SELECT max(seq) FROM documents WHERE kind = ?6), 0) AS parts,"
            " (SELECT count(*) FROM erasures) AS erasures",
            shipment,
            store_id,
            DocumentKind.LAYOUT.value,
            DocumentKind.PATTERNS.value,
            DocumentKind.REQUEST.value,
            DocumentKind.PARTS.value,
        )[0]
        return Stamps(**row)

    def reads_between(self, shipment: str, seq: int, last: int) -> tuple[RawRead, ...]:
        """The shipment's reads after the one with this number, up to and with ``last``, in the order they came in."""
        rows = self._rows(
            "SELECT shipment, read_id, read FROM reads WHERE shipment = ? AND seq > ? AND seq <= ? ORDER BY seq",
            shipment,
            seq,
            last,
        )
        return tuple(self._readable("reads", rows, lambda row: from_text(row["read"], RawRead)))

    def count_reads(self, shipment: str, among: Sequence[str] | None = None) -> int:
        """How many reads of the shipment are stored; only those of the ids ``among``, where they are given."""
        sql, values = "SELECT count(*) AS n FROM reads WHERE shipment = ?", [shipment]
        if among is not None:
            sql += " AND read_id IN (SELECT value FROM json_each(?))"
            values.append(json.dumps(list(among)))
        return int(self._rows(sql, *values)[0]["n"])

    def photo_marks(self, shipment: str) -> tuple[PhotoMark, ...]:
        """What tells the states of the shipment's photos apart, in the order of `photos`."""
        rows = self._rows(
            "SELECT photo, status, error, ifnull(length(reading), -1) AS length FROM photos WHERE shipment = ?"
            " ORDER BY rowid",
            shipment,
        )
        return tuple((row["photo"], row["status"], row["error"], row["length"]) for row in rows)
