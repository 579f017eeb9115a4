"""``receiving user``: the accounts of a data folder."""

import argparse
import getpass
import sys

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import _, show
from receiving.errors import BadRequest
from receiving.messages import Text, joined, message, plural
from receiving.model import Person, Role

_ROLES = {
    Role.COORDINATOR: message("coordinator"),
    Role.REP: message("rep"),
    Role.STORE_MANAGER: message("store manager"),
}


def run_user(options: argparse.Namespace) -> int:
    """Add, list, change, close or open an account."""
    is_new = not options.data.is_dir() or not any(options.data.iterdir())
    adds = options.deed == "add"
    with service.Context.at(options.data, create=adds) as ctx:  # an account may come before anything else
        if adds and is_new:
            show(message("{folder} is a new data folder.", folder=str(options.data)))
        if adds:
            _add(ctx, options)
        elif options.deed == "list":
            _list(ctx)
        else:
            _change(ctx, _find(ctx, options.name), options)
    return DONE


def _change(ctx: service.Context, person: Person, options: argparse.Namespace) -> None:
    match options.deed:
        case "password":
            password = service.make_first_password()
            service.set_password(ctx, person.person_id, password, first_password=True)
            show(_first_words(person.name, password))
        case "sign-on":
            service.set_subject(ctx, person.person_id, options.subject)
        case "close":
            service.close_account(ctx, person.person_id)
        case _:
            service.open_account(ctx, person.person_id)
    show(message("{name}: done.", name=person.name))


def _add(ctx: service.Context, options: argparse.Namespace) -> None:
    """The first account's password is typed by whoever will use it; the others are given a first password."""
    first = not service.has_people(ctx)
    password = _password() if first else service.make_first_password()
    person = service.add_person(
        ctx,
        options.name,
        Role(options.role),
        password,
        stores=options.store or None,
        programmes=options.programme or None,
        first_password=not first,
    )
    if first:
        show(message("{name} can sign in now. From the first account on, everybody has to.", name=person.name))
    else:
        show(_first_words(person.name, password))


def _first_words(name: str, password: str) -> Text:
    return plural(
        service.FIRST_LIFE.days,
        "The first password of {name} is {password}. {name} signs in with it and chooses another, within {number} day.",
        "The first password of {name} is {password}."
        " {name} signs in with it and chooses another, within {number} days.",
        name=name,
        password=password,
    )


def _list(ctx: service.Context) -> None:
    found = service.list_people(ctx)
    for person in found:
        words: list[Text] = [_ROLES[person.role]]
        words.append(message("all stores") if person.scope.stores is None else ", ".join(sorted(person.scope.stores)))
        if person.scope.programmes is not None:
            programmes = ", ".join(sorted(person.scope.programmes))
            words.append(message("programmes {programmes}", programmes=programmes))
        if not person.active:
            words.append(message("closed"))
        show(message("{name}: {account}", name=person.name, account=joined(*words, separator=", ")))
    if not found:
        show(message("There is no account: whoever reaches the page can read and write."))


def _find(ctx: service.Context, name: str) -> Person:
    found = next((each for each in service.list_people(ctx) if each.name.casefold() == name.casefold()), None)
    if found is None:
        raise BadRequest(
            message("There is no account {name}.", name=repr(name)), next_step=message("See receiving user list.")
        )
    return found


def _password() -> str:
    """The password typed twice at a terminal, or the first line of what comes in."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    first, second = getpass.getpass(_("Password: ")), getpass.getpass(_("Once more: "))
    if first != second:
        raise BadRequest(message("The two passwords differ."), next_step=message("Type the command again."))
    return first
