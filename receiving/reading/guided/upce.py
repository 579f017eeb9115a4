"""UPC-E: six digits that stand for a UPC-A whose number holds a run of zeros (ISO/IEC 15420, zero suppression).

The number system is 0, as the standard has it; the check digit is not printed but told by the sets of the six digits.
"""

CHECK_SETS = ("BBBAAA", "BBABAA", "BBAABA", "BBAAAB", "BABBAA", "BAABBA", "BAAABB", "BABABA", "BABAAB", "BAABAB")
"""Sets of the six digits by the check digit of the UPC-A. ISO/IEC 15420, number set encodation of UPC-E."""

_PLACES = dict.fromkeys("012", "abf0000cde") | {"3": "abc00000de", "4": "abcd00000e"}
_PLACES |= dict.fromkeys("56789", "abcde0000f")

LAST_DIGITS = ("012", "3", "4", "56789")
"""Last digits that put the other five at the same places of the UPC-A."""


def expanded(six: str) -> str:
    """The first eleven digits of the UPC-A that six digits of a UPC-E stand for.

    >>> expanded("654321")  # the worked example of Wikipedia, Universal Product Code: 065100004327 (from memory)
    '06510000432'
    """
    return "0" + "".join(six["abcdef".index(place)] if place != "0" else "0" for place in _PLACES[six[-1]])


def suppressed(upca: str) -> str | None:
    """The six digits that stand for this UPC-A (12 digits); None where it has no such run of zeros.

    >>> suppressed("065100004327"), suppressed("071831007995")
    ('654321', None)
    """
    company, item = upca[1:6], upca[6:11]
    tries = (
        company[:2] + item[2:] + company[2],
        company[:3] + item[3:] + "3",
        company[:4] + item[4] + "4",
        company + item[4],
    )
    return next((six for six in tries if expanded(six) == upca[:11]), None)


def weights(last: str) -> tuple[int, ...]:
    """Weight of each of the six digits in the modulo 10 sum of the UPC-A, where the last one is this."""
    places = "0" + _PLACES[last]
    return tuple((0 if at < 0 else 1 if at % 2 else 3) for at in map(places.find, "abcdef"))
