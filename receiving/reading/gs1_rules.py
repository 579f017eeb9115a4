"""GS1 facts that the AI table of biip does not hold: which AIs need or exclude each other.

Source of all of them: GS1 Barcode Syntax Dictionary (github.com/gs1/gs1-syntax-dictionary, commit ff2eb4bf,
Apache-2.0), and GS1 General Specifications, figures 7.8.5-2 (lengths) and 4.13 (pairs). In the rows below, ``n``
is any digit, a space is "or", and ``+`` is "and".
"""

import re
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from functools import cache
from itertools import product

PREDEFINED_LENGTHS = (
    {"00": 20, "01": 16, "02": 16, "03": 16, "04": 18, "20": 4, "41": 16}
    | {f"1{n}": 8 for n in range(1, 10)}
    | {f"3{n}": 10 for n in range(1, 7)}
)
"""First two digits -> characters of AI and value together, for elements that need no separator."""

LINK_KEYS: dict[str, tuple[tuple[str, ...], ...]] = {
    "00": ((),),
    "01": (("22", "10", "21"), ("235",)),
    "253": ((),),
    "255": ((),),
    "401": ((),),
    "402": ((),),
    "414": (("254",), ("7040",)),
    "415": (("8020",),),
    "417": (("7040",),),
    "8003": ((),),
    "8004": (("7040",),),
    "8006": (("22", "10", "21"),),
    "8010": (("8011",),),
    "8013": ((),),
    "8017": (("8019",),),
    "8018": (("8019",),),
}
"""Keys of a Digital Link path, and the orders in which their qualifiers may follow."""

NOT_IN_LINK_QUERY = frozenset(
    {"03", "21", "22", "235", "254", "7040", "7041", "8011", "8014", "8019", "8020"}
    | {"8040", "8041", "8042", "8043", "8200"}
)

_REQUIRED = """
02 8026 : 37
10 11 13 15 16 20 240 241 422 : 01 02 03 8006 8026
12 391n 415 : 8020
17 : 01 02 03 255 8006 8026
21 251 7021 8012 : 01 03 8006
22 235 337n 710 711 712 713 714 715 716 717 8001 8014 8200 : 01
242 7001 : 01 02 8006 8026
243 : 01 03
250 : 01+21 03+21 8006+21
254 : 414
30 310n 311n 312n 313n 314n 315n 316n 32nn 350n 351n 352n 356n 357n 360n 361n 364n 365n 366n : 01 02
7002 7005 7006 7007 7008 7009 703n 8005 : 01 02
330n 331n 332n 333n 334n 335n 336n 34nn 353n 354n 355n 362n 363n 367n 368n 369n : 00 01
37 : 00+02 00+8026
390n : 255 8020
392n : 01+30 01+31nn 01+32nn 01+35nn 01+36nn
393n 395n : 30 31nn 32nn 35nn 36nn
394n 8111 : 255
403 4300 4301 4302 4304 4305 4306 4307 4308 4309 432n 433n 7041 : 00
4310 4311 4312 4314 4315 4316 4317 4318 4319 : 00
423 424 425 426 7003 7010 7011 8008 : 01 02 03
427 : 01+422 02+422 03+422
4303 : 4302
4313 : 4312
7004 : 01+10 03+10
7020 : 01+416 03+416 8006+416
7022 : 01+7021 03+7021 8006+7021
723n : 01 8004
7240 : 01 8006
7241 7242 7253 7254 7255 7256 8019 : 8017 8018
7250 7251 7252 7257 7259 : 8018
7258 : 8018+7259
8007 8020 : 415
8009 : 00 01 03
8011 : 8010
8030 : 00 01+21 03+21 253 255 8003 8004 8006+21 8010+8011 8017 8018
8040 : 01+21
8041 8042 8043 : 01+21+8040
"""

_EXCLUDED = """
01 : 255 37
02 : 01 03
03 : 01 02 37 235
21 : 235
255 : 01 02 415 8006 8020 8026
390n : 391n 394n 8111
392n : 393n
394n : 8111
395n : 392n 393n 8005
420 : 421
421 : 4307
422 423 424 425 : 426
4330 : 4331
4331 : 4330
4332 : 4333
4333 : 4332
7240 : 03
7250 : 7251
7251 : 7250
7253 7254 7255 : 7256 7259
7259 : 7256
8006 : 01 03 37
8017 : 8018
8018 : 8017
8026 : 02 03 8006
"""
_ONE_OF_ITS_KIND = re.compile(r"(3[1-6]\d|39[0-5])\d")
"""Measures and amounts differ in their last digit by decimals only: one of each kind on a label."""


def required_with(ai: str, found: AbstractSet[str]) -> Iterator[str]:
    """What this AI needs beside it and ``found`` lacks, in words."""
    for needs in _rows(_REQUIRED, ai):
        if not any(all(_members(one) & found for one in choice.split("+")) for choice in needs):
            yield " or ".join("(" + choice.replace("+", ") with (") + ")" for choice in needs)


def excluded_with(ai: str, found: AbstractSet[str]) -> AbstractSet[str]:
    """The AIs of ``found`` that may not stand beside this one."""
    alike = (f"{ai[:3]}n",) if _ONE_OF_ITS_KIND.fullmatch(ai) else ()
    forms = (*(form for row in _rows(_EXCLUDED, ai) for form in row), *alike)
    return frozenset().union(*(_members(form) & found for form in forms)) - {ai}


def is_form(ai: str, form: str) -> bool:
    """True where the AI has this form, in which ``n`` stands for any digit."""
    return len(ai) == len(form) and all(b in ("n", a) for a, b in zip(ai, form, strict=True))


@cache
def _members(form: str) -> AbstractSet[str]:
    """The AIs of a form: a set, so that a label of many elements is judged in time linear to their number."""
    return frozenset("".join(digits) for digits in product(*("0123456789" if c == "n" else c for c in form)))


@cache
def _rows(table: str, ai: str) -> tuple[tuple[str, ...], ...]:
    rows = (line.split(" : ") for line in table.strip().splitlines())
    return tuple(tuple(needs.split()) for ais, needs in rows if any(is_form(ai, form) for form in ais.split()))
