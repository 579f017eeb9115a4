"""Ids in addresses: any text, also with slashes and dots, as one segment; and numbers that the store can hold."""

import re

from werkzeug.routing import BaseConverter, IntegerConverter, ValidationError

_MOST_DIGITS = 9
_ESCAPE = re.compile(r"~([0-9A-F]{2})")


class TextId(BaseConverter):
    """An id of a manifest as a path segment: servers and browsers decode ``%2F`` and fold dots, so ``~`` escapes them.

    >>> TextId({}).to_url("2026/031.a~"), TextId({}).to_python("2026~2F031~2Ea~7E")
    ('2026~2F031~2Ea~7E', '2026/031.a~')
    """

    regex = r"[^/]+"
    part_isolating = True

    def to_python(self, value: str) -> str:
        """The id from the segment."""
        if re.search(r"~(?![0-9A-F]{2})", value):
            raise ValidationError(f"{value!r} has a '~' without two hexadecimal digits")
        return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), value)

    def to_url(self, value: object) -> str:
        """The segment for the id."""
        escaped = re.sub(r"[~/.\\]", lambda found: f"~{ord(found[0]):02X}", str(value))
        return super().to_url(escaped)


class Number(IntegerConverter):
    """A number of at most nine digits: the store holds no larger one, and an address with one leads nowhere."""

    def to_python(self, value: str) -> int:
        """The number from the segment."""
        if len(value) > _MOST_DIGITS:
            raise ValidationError(f"{len(value)} digits: at most {_MOST_DIGITS}")
        return int(super().to_python(value))
