"""How many rows of which table of the database, in words."""

from collections.abc import Callable, Mapping

from receiving.messages import Joined, Text, joined, plural

_TABLES: dict[str, Callable[[int], Text]] = {
    "actions": lambda n: plural(n, "{number} action", "{number} actions"),
    "api_tokens": lambda n: plural(n, "{number} API token", "{number} API tokens"),
    "audit": lambda n: plural(n, "{number} audit entry", "{number} audit entries"),
    "documents": lambda n: plural(n, "{number} document", "{number} documents"),
    "links": lambda n: plural(n, "{number} link", "{number} links"),
    "manifest_revisions": lambda n: plural(n, "{number} manifest revision", "{number} manifest revisions"),
    "notes": lambda n: plural(n, "{number} note", "{number} notes"),
    "people": lambda n: plural(n, "{number} person", "{number} people"),
    "photos": lambda n: plural(n, "{number} photo", "{number} photos"),
    "reads": lambda n: plural(n, "{number} read", "{number} reads"),
    "receipts": lambda n: plural(n, "{number} receipt", "{number} receipts"),
    "seals": lambda n: plural(n, "{number} seal", "{number} seals"),
    "webhook_events": lambda n: plural(n, "{number} webhook event", "{number} webhook events"),
    "webhooks": lambda n: plural(n, "{number} webhook", "{number} webhooks"),
    "shipments": lambda n: plural(n, "{number} shipment", "{number} shipments"),
}


def rows_words(rows: Mapping[str, int]) -> Joined:
    """Counts of rows by table; a table that has no word here is named as in the database."""
    return joined(*(_counted(table, count) for table, count in rows.items()), separator=", ")


def _counted(table: str, count: int) -> Text:
    words = _TABLES.get(table)
    return words(count) if words else f"{count} {table.replace('_', ' ')}"
