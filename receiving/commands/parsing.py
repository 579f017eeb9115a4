"""The parser of command lines, said in the language of the environment, the words of `argparse` included.

`argparse` has its own words in English, and its faults as finished sentences; this is the one place where they are
mapped to messages. What a later version of it words otherwise is said as it comes.
"""

import argparse
import re
import sys
from collections.abc import Iterable
from typing import Any, NoReturn

from receiving.commands.terminal import say
from receiving.messages import Text, message

WRONG_USAGE = 2


class _Formatter(argparse.HelpFormatter):
    def add_usage(
        self,
        usage: str | None,
        actions: Iterable[argparse.Action],
        groups: Iterable[Any],
        prefix: str | None = None,
    ) -> None:
        """Begin with the language's word for how it is used."""
        word = say(message("usage:"))  # the extraction does not look into an f-string
        super().add_usage(usage, actions, groups, f"{word} " if prefix is None else prefix)


class Parser(argparse.ArgumentParser):
    """A parser that says its help and its faults in the language of the environment."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **{**options, "add_help": False, "formatter_class": _Formatter})
        self._positionals.title = say(message("positional arguments"))
        self._optionals.title = say(message("options"))
        words = say(message("show this help message and exit"))
        self.add_argument("-h", "--help", action="help", default=argparse.SUPPRESS, help=words)

    def error(self, message: str) -> NoReturn:
        """End with the status for wrong usage, after how it is used and what is wrong."""
        self.print_usage(sys.stderr)
        self.exit(WRONG_USAGE, f"{say(_ended_by(self.prog, in_messages(message)))}\n")


def _ended_by(program: str, fault: Text) -> Text:
    return message("{program}: error: {fault}", program=program, fault=fault)


def in_messages(fault: str) -> Text:
    """A fault of `argparse` as a message; as it is where it is not one of those that are known.

    >>> str(in_messages("argument --port: expected one argument"))
    'argument --port: expected one argument'
    """
    for pattern, template in _FAULTS:
        if found := re.fullmatch(pattern, fault, re.DOTALL):
            return template.filled(**found.groupdict())
    return fault


_FAULTS = (
    (r"the following arguments are required: (?P<names>.+)", message("the following arguments are required: {names}")),
    (r"unrecognized arguments: (?P<names>.+)", message("unrecognized arguments: {names}")),
    (
        r"ambiguous option: (?P<name>.+) could match (?P<names>.+)",
        message("ambiguous option: {name} could match {names}"),
    ),
    (r"argument (?P<name>.+?): expected one argument", message("argument {name}: expected one argument")),
    (
        r"argument (?P<name>.+?): expected at least one argument",
        message("argument {name}: expected at least one argument"),
    ),
    (
        r"argument (?P<name>.+?): expected (?P<number>[0-9]+) arguments",
        message("argument {name}: expected {number} arguments"),
    ),
    (
        r"argument (?P<name>.+?): invalid choice: (?P<value>.+) \(choose from (?P<choices>.+)\)",
        message("argument {name}: invalid choice: {value} (choose from {choices})"),
    ),
    (
        r"argument (?P<name>.+?): invalid int value: (?P<value>.+)",
        message("argument {name}: {value} is not a whole number"),
    ),
    (
        r"argument (?P<name>.+?): invalid float value: (?P<value>.+)",
        message("argument {name}: {value} is not a number"),
    ),
    (
        r"argument (?P<name>.+?): not allowed with argument (?P<other>.+)",
        message("argument {name}: not allowed with argument {other}"),
    ),
    (
        r"argument (?P<name>.+?): ignored explicit argument (?P<value>.+)",
        message("argument {name}: it takes no value, and is given {value}"),
    ),
    (r"argument (?P<name>.+?): (?P<fault>.+)", message("argument {name}: {fault}")),
)
