"""The commands: what can be typed, and how a command ends.

Exit status: 0 complete, 1 it could not do the work, 2 wrong usage, 3 done and the shipment has shorts or overs.
"""

import argparse
import importlib
import math
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeAlias

from receiving import __version__
from receiving.commands.parsing import Parser
from receiving.commands.terminal import _, fault_words, say, show_fault
from receiving.errors import ReceivingError, is_out_of_memory
from receiving.messages import message
from receiving.model.limits import PHOTO_LIMIT_S
from receiving.model.reads import Place

DONE, FAILED, USAGE, INCOMPLETE = 0, 1, 2, 3
DEFAULT_DATA = Path("data")
MOST_SECONDS = 86_400

_Commands: TypeAlias = "argparse._SubParsersAction[Parser]"


def run(arguments: Sequence[str]) -> int:
    """Run one command; gives the exit status. Faults go to standard error in plain words."""
    options = parse(arguments)
    try:
        command = importlib.import_module(f"receiving.commands.{options.module}")
        return int(getattr(command, f"run_{options.command.replace('-', '_')}")(options))
    except ReceivingError as fault:
        show_fault(message("receiving {command}: {fault}", command=options.command, fault=fault_words(fault)))
        return FAILED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has gone; there is nobody to tell
        return FAILED
    except KeyboardInterrupt:
        show_fault(message("Stopped."))
        return FAILED
    except Exception as fault:
        if not is_out_of_memory(fault):
            raise
        wording = message(
            "receiving {command}: This machine has no more memory for it. Nothing that was stored is lost. "
            "Close other programs, or raise its limit, and start it again.",
            command=options.command,
        )
        show_fault(wording)
        return FAILED


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """The options of a command line; answers a question for help or the version itself, and ends with 2 on a fault."""
    parser = _parser()
    options, rest = parser.parse_known_args(arguments)
    if options.module == "test":
        options.rest = rest
    elif rest:
        parser.error(f"unrecognized arguments: {' '.join(rest)}")
    return options


def _parser() -> argparse.ArgumentParser:
    parser = Parser(
        prog="receiving",
        description=_("Prove what arrived against the manifest, find what is missing, and stage the cartons."),
        epilog=_("Exit status: 0 complete, 1 could not do the work, 2 wrong usage, 3 done, with shorts or overs."),
    )
    wording = _("show program's version number and exit")
    parser.add_argument("--version", action="version", version=f"receiving {__version__}", help=wording)
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_demo(commands)
    _add_read(commands)
    _add_reconcile(commands)
    _add_import(commands)
    _add_template(commands)
    _add_add(commands)
    _add_export(commands)
    _add_overview(commands)
    _add_swaps(commands)
    _add_serve(commands)
    _add_user(commands)
    _add_verify(commands)
    _add_keys(commands)
    _add_webhook(commands)
    _add_retention(commands)
    _add_messages(commands)
    _add_labels(commands)
    _add_void(commands)
    _add_backup(commands)
    _add_restore(commands)
    _add_check(commands)
    _add_doctor(commands)
    _add_test(commands)
    return parser


def _add(commands: _Commands, name: str, module: str, words: str) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=words, description=words)
    parser.set_defaults(module=module)
    return parser


def _add_demo(commands: _Commands) -> None:
    parser = _add(commands, "demo", "serve", _("Read the sample photos, print the reconciliation, and serve the page."))
    parser.add_argument("--no-serve", action="store_true", help=_("stop after printing, do not serve the page"))
    parser.add_argument("--json", action="store_true", help=_("print the reconciliation as JSON (implies --no-serve)"))
    _serving_options(parser)
    parser.add_argument(
        "--data", type=Path, help=_("data folder to use (default: a new one that is removed at the end)")
    )


def _add_read(commands: _Commands) -> None:
    parser = _add(commands, "read", "read", _("Read the labels on photos."))
    parser.add_argument("photos", nargs="+", type=Path, metavar="PHOTO", help=_("photo files, or folders of photos"))
    parser.add_argument(
        "--manifest", type=Path, help=_("manifest whose cartons may be in view: reads damaged labels too")
    )
    parser.add_argument("--json", action="store_true", help=_("one JSON object a line for each photo"))
    parser.add_argument(
        "--limit-s",
        type=_seconds,
        default=PHOTO_LIMIT_S,
        help=_("seconds of CPU after which a photo is given up (180)"),
    )


def _add_reconcile(commands: _Commands) -> None:
    parser = _add(commands, "reconcile", "reconcile", _("Match photos and scans with a manifest; plan the staging."))
    parser.add_argument("--manifest", type=Path, required=True, help=_("manifest or ship notice"))
    parser.add_argument("--shipment", help=_("which one, where the manifest holds several"))
    parser.add_argument("--others", type=Path, nargs="+", default=[], help=_("manifests of other open shipments"))
    parser.add_argument("--layout", type=Path, help=_("layout of the store: bays and cart"))
    parser.add_argument(
        "--photos", type=Path, nargs="+", default=[], metavar="PATH", help=_("photos, or folders of them")
    )
    parser.add_argument("--scans", type=Path, help=_("scan list, CSV or JSON lines"))
    parser.add_argument("--patterns", type=Path, help=_("label pattern file"))
    parser.add_argument("--json", action="store_true", help=_("print one JSON object"))
    parser.add_argument(
        "--limit-s",
        type=_seconds,
        default=PHOTO_LIMIT_S,
        help=_("seconds of CPU after which a photo is given up (180)"),
    )


def _add_import(commands: _Commands) -> None:
    parser = _add(commands, "import", "imports", _("Store manifests, ship notices, layouts and label patterns."))
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help=_("CSV, XLSX, X12 856, DESADV, or TOML"))
    parser.add_argument("--preview", action="store_true", help=_("say what would change, and store nothing"))
    parser.add_argument("--shipper", default="", help=_("whose headings a table has, as kept on the import page"))
    parser.add_argument(
        "--restore-zeros", action="store_true", help=_("take numbers with the leading zeros known of them")
    )
    parser.add_argument("--json", action="store_true", help=_("print one JSON object a line for each shipment"))
    _data_option(parser)


def _add_template(commands: _Commands) -> None:
    parser = _add(commands, "template", "imports", _("Write an empty manifest, layout and pattern file to fill in."))
    parser.add_argument("--out", type=Path, default=Path(), metavar="FOLDER", help=_("where to (default: this folder)"))


def _add_add(commands: _Commands) -> None:
    parser = _add(
        commands, "add", "shipment", _("Add photos, scans, codes and notes to a shipment in the data folder.")
    )
    parser.add_argument("shipment", metavar="SHIPMENT", help=_("its id, as on the manifest"))
    parser.add_argument(
        "--photos", type=Path, nargs="+", default=[], metavar="PATH", help=_("photos, or folders of them")
    )
    parser.add_argument("--scans", type=Path, nargs="+", default=[], metavar="FILE", help=_("scan lists"))
    parser.add_argument("--codes", nargs="+", default=[], metavar="CODE", help=_("codes as typed from labels"))
    parser.add_argument("--notes", type=Path, nargs="+", default=[], metavar="FILE", help=_("notes, JSON lines"))
    parser.add_argument("--by", default="", metavar="NAME", help=_("who took the photos or typed the codes"))
    places = [place.value for place in Place]
    parser.add_argument("--place", choices=places, default="other", help=_("where in the store (default: other)"))
    parser.add_argument("--workers", type=_whole(1, 64), default=2, help=_("processes that read photos (default 2)"))
    parser.add_argument("--json", action="store_true", help=_("one JSON object a line for each photo, scan and note"))
    _data_option(parser)


def _add_export(commands: _Commands) -> None:
    parser = _add(commands, "export", "shipment", _("Write one shipment's result as CSV, XLSX or JSON."))
    parser.add_argument("shipment", metavar="SHIPMENT", help=_("its id, as on the manifest"))
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help=_("ends in .csv, .xlsx or .json"))
    _data_option(parser)


def _add_overview(commands: _Commands) -> None:
    parser = _add(commands, "overview", "dispatch", _("List the shipments, those to act on before the visit first."))
    parser.add_argument(
        "--days",
        type=_whole(0, 36_500),
        metavar="N",
        help=_("leave out visits after N days from now"),
    )
    parser.add_argument("--json", action="store_true", help=_("one JSON object a line for each shipment"))
    _data_option(parser)


def _add_swaps(commands: _Commands) -> None:
    words = _("List which store's extra carton would save which visit, and note it as on its way.")
    parser = _add(commands, "swaps", "dispatch", words)
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--take",
        nargs=2,
        action="append",
        metavar=("SHIPMENT", "CARTON"),
        help=_("note that this missing carton is brought from the other store; may be given several times"),
    )
    which.add_argument("--take-all", action="store_true", help=_("note all that are listed"))
    parser.add_argument("--by", default="", metavar="NAME", help=_("who takes them"))
    parser.add_argument(
        "--lanes", type=Path, metavar="FILE", help=_("first store this table of lanes (docs/formats.md)")
    )
    parser.add_argument("--json", action="store_true", help=_("one JSON object a line for each swap"))
    _data_option(parser)


def _add_serve(commands: _Commands) -> None:
    parser = _add(commands, "serve", "serve", _("Serve the page."))
    _serving_options(parser)
    _data_option(parser)


def _add_verify(commands: _Commands) -> None:
    parser = _add(commands, "verify", "receipts", _("Say whether a receipt is still what was confirmed."))
    wording = _("the sealed record, PDF or ZIP that the receipt's page offers")
    parser.add_argument("file", type=Path, metavar="FILE", help=wording)
    parser.add_argument(
        "--key", default="", metavar="KEY", help=_("the public key, or its id, that it has to be sealed with")
    )
    parser.add_argument("--data", type=Path, metavar="FOLDER", help=_("compare it with this data folder too"))


def _add_keys(commands: _Commands) -> None:
    parser = _add(commands, "keys", "receipts", _("List the keys that receipts are sealed with."))
    parser.add_argument("--rotate", action="store_true", help=_("seal with a new key from now on"))
    _data_option(parser)


def _add_user(commands: _Commands) -> None:
    parser = _add(commands, "user", "user", _("Add, list and change the accounts of a data folder."))
    deeds = parser.add_subparsers(dest="deed", required=True, metavar="WHAT")
    add = deeds.add_parser(
        "add", help=_("add an account; the first account's password is asked for or read from a pipe")
    )
    add.add_argument("name", help=_("how the person is named on pages and receipts"))
    add.add_argument("--role", required=True, choices=("coordinator", "rep", "store_manager"))
    add.add_argument(
        "--store", action="append", metavar="STORE", help=_("a store it may see (repeat it; default: all)")
    )
    add.add_argument("--programme", action="append", metavar="NAME", help=_("a programme it may see (repeat it)"))
    for deed, words in (
        ("password", _("make a new first password; all sessions of the person end")),
        ("close", _("close an account; all sessions of the person end")),
        ("open", _("open a closed account again")),
    ):
        deeds.add_parser(deed, help=words).add_argument("name", help=_("whose account it is"))
    sign_on = deeds.add_parser(
        "sign-on", help=_("say what the company's sign-on calls a person; an empty text removes it")
    )
    sign_on.add_argument("name", help=_("whose account it is"))
    sign_on.add_argument("subject", nargs="?", default="", help=_("the claim of its token that names the person"))
    deeds.add_parser("list", help=_("list all accounts"))
    for each in deeds.choices.values():
        _data_option(each)


def _add_webhook(commands: _Commands) -> None:
    parser = _add(
        commands, "webhook", "webhook", _("Add, list, try and end the programs that are notified of what happens.")
    )
    deeds = parser.add_subparsers(dest="deed", required=True, metavar="WHAT")
    add = deeds.add_parser("add", help=_("notify a program of events; its secret is shown only this once"))
    add.add_argument("url", metavar="URL", help=_("where messages are sent to, with https"))
    kinds = ("shipment_short", "advice_changed", "shipment_confirmed", "receipt_sealed")
    add.add_argument("--event", action="append", required=True, choices=kinds, help=_("an event (repeat it)"))
    add.add_argument("--store", action="append", metavar="STORE", help=_("of this store alone (repeat it)"))
    add.add_argument("--programme", action="append", metavar="NAME", help=_("of this programme alone (repeat it)"))
    _network_option(add)
    for deed, words in (
        ("secret", _("sign with a new secret, and for one more day with the old one too")),
        ("try", _("send a trial message")),
        ("end", _("stop notifying a program")),
    ):
        deeds.add_parser(deed, help=words).add_argument("webhook", metavar="WEBHOOK", help=_("its id, as in the list"))
    again = deeds.add_parser("again", help=_("send a delivery once more"))
    again.add_argument(
        "delivery", type=_whole(1, 999_999_999), metavar="DELIVERY", help=_("its number, as in the list")
    )
    listing = deeds.add_parser("list", help=_("list all webhooks"))
    sent = deeds.add_parser("deliveries", help=_("list what was sent, the newest first"))
    sent.add_argument("--most", type=_whole(1, 10_000), default=100, help=_("at most this many (default 100)"))
    for each in (listing, sent):
        each.add_argument("--json", action="store_true", help=_("one JSON object a line"))
    for each in deeds.choices.values():
        _data_option(each)


def _network_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--webhook-network",
        action="append",
        default=[],
        metavar="NETWORK",
        help=_("a private network, such as 10.1.0.0/16, that webhooks may reach (may be given again)"),
    )


def _add_messages(commands: _Commands) -> None:
    parser = _add(commands, "messages", "receipts", _("Write receipts as standard messages into a folder, each once."))
    parser.add_argument("--out", type=Path, required=True, metavar="FOLDER", help=_("a folder that is there"))
    parser.add_argument("--again", action="store_true", help=_("write those too that were written before"))
    _message_options(parser)
    _data_option(parser)


def _message_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--message", action="append", choices=("x12", "edi", "jsonld"), help=_("only these kinds"))
    parser.add_argument("--sender-id", default="", metavar="ID", help=_("who sends, as partners know the company"))
    parser.add_argument("--receiver-id", default="", metavar="ID", help=_("who receives, as the shipper is known"))
    parser.add_argument("--base", default="", metavar="ADDRESS", help=_("address that EPCIS names begin with"))


def _add_retention(commands: _Commands) -> None:
    prune = _add(
        commands, "prune", "data_folder", _("Remove photos of shipments on which nothing has happened for long.")
    )
    prune.add_argument("--older-than", type=_whole(1, 36_500), metavar="DAYS", help=_("default: as set on the page"))
    prune.add_argument("--with-receipts", action="store_true", help=_("remove photos that a receipt shows too"))
    erase = _add(
        commands,
        "erase-name",
        "data_folder",
        _("Remove a person's name from everything; receipts can still be verified."),
    )
    erase.add_argument("name", metavar="NAME", help=_("the name exactly as it is shown"))
    for each in (prune, erase):
        each.add_argument("--dry-run", action="store_true", help=_("say what would be removed, and remove nothing"))
        each.add_argument("--json", action="store_true", help=_("print one JSON object"))
        _data_option(each)


def _add_labels(commands: _Commands) -> None:
    parser = _add(commands, "labels", "labels", _("Print carton labels as PDF, or for a label printer."))
    parser.add_argument("--manifest", type=Path, required=True, help=_("manifest or ship notice"))
    parser.add_argument("--shipment", help=_("which shipment, where the manifest holds several"))
    parser.add_argument("--carton", nargs="+", default=[], help=_("only these cartons (default: all)"))
    parser.add_argument("--stock", default="4x6in", help=_("label stock (default 4x6in); a wrong name lists all"))
    parser.add_argument(
        "--dpi", type=int, default=300, choices=(200, 203, 300, 600), help=_("the printer's dots per inch")
    )
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help=_("weights in kg or in lb"))
    parser.add_argument("--sender", nargs="+", default=[], metavar="LINE", help=_("who sends them, up to three lines"))
    parser.add_argument(
        "--offset-mm", nargs=2, type=float, default=(0.0, 0.0), metavar=("RIGHT", "DOWN"), help=_("move the picture")
    )
    parser.add_argument("--link-host", default="https://id.gs1.org", help=_("where the QR code of an SSCC leads"))
    parser.add_argument("--out", type=Path, required=True, help=_("the PDF file to write, or .zpl for a label printer"))


def _add_void(commands: _Commands) -> None:
    parser = _add(commands, "void", "shipment", _("Void a shipment that was imported by mistake, or bring it back."))
    parser.add_argument("shipment", metavar="SHIPMENT", help=_("the shipment's id"))
    parser.add_argument("--undo", action="store_true", help=_("let it count again"))
    parser.add_argument("--reason", default="", help=_("why, for those who look later"))
    parser.add_argument("--by", default="", metavar="NAME", help=_("who does it"))
    parser.add_argument("--json", action="store_true", help=_("print one JSON object"))
    _data_option(parser)


def _add_backup(commands: _Commands) -> None:
    words = _(
        "Check the data folder and copy it, even while it is served: all of it into one archive, or only what is new "
        "into a folder."
    )
    parser = _add(commands, "backup", "data_folder", words)
    parser.add_argument("--out", type=Path, required=True, help=_("the ZIP file to write, or a folder that is there"))
    parser.add_argument("--json", action="store_true", help=_("print one JSON object"))
    _data_option(parser)


def _add_restore(commands: _Commands) -> None:
    parser = _add(commands, "restore", "data_folder", _("Make a new data folder from a backup."))
    parser.add_argument("backup", type=Path, metavar="BACKUP", help=_("an archive or a folder that backup made"))
    parser.add_argument("--json", action="store_true", help=_("print one JSON object"))
    _data_option(parser)


def _add_check(commands: _Commands) -> None:
    words = _("Check that every stored row and photo is as it was stored; exit status 1 if not.")
    parser = _add(commands, "check", "data_folder", words)
    parser.add_argument("--json", action="store_true", help=_("print one JSON object"))
    _data_option(parser)


def _add_doctor(commands: _Commands) -> None:
    parser = _add(commands, "doctor", "doctor", _("Check libraries, versions and the data folder."))
    parser.add_argument("--json", action="store_true", help=_("print one JSON object"))
    _data_option(parser)


def _add_test(commands: _Commands) -> None:
    parser = _add(commands, "test", "test", _("Run the project's tests."))
    parser.epilog = _("Further arguments are handed to pytest.")


def _whole(least: int, most: int) -> Callable[[str], int]:
    def parse(text: str) -> int:
        if not (text.isascii() and text.isdigit() and least <= int(text) <= most):
            wording = message(
                "{text} is not a whole number from {least} to {most}", text=repr(text), least=least, most=most
            )
            raise argparse.ArgumentTypeError(say(wording))
        return int(text)

    return parse


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 < value <= MOST_SECONDS:  # false for a NaN too
        wording = message(
            "{text} is not a number of seconds above 0 and up to {most}", text=repr(text), most=MOST_SECONDS
        )
        raise argparse.ArgumentTypeError(say(wording))
    return value


def _data_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--data", type=Path, default=DEFAULT_DATA, help=_("data folder (default: ./data)"))


def _serving_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", help=_("address to listen on (default: this machine only)"))
    parser.add_argument(
        "--port", type=_whole(0, 65_535), default=8417, help=_("port to listen on (default 8417; 0 takes a free one)")
    )
    parser.add_argument(
        "--allow-host",
        action="append",
        default=[],
        metavar="NAME",
        help=_("host name by which the page may be opened, beside localhost and IP addresses (may be given again)"),
    )
    parser.add_argument(
        "--tls",
        action="store_true",
        help=_("encrypt, by a certificate authority of this data folder that phones install"),
    )
    parser.add_argument(
        "--proxy",
        default="",
        metavar="ADDRESS",
        help=_("IP address of a server in front whose X-Forwarded-… is believed"),
    )
    parser.add_argument(
        "--proxy-user-header",
        default="",
        metavar="NAME",
        help=_("header in which that server tells which account is signed on (with --proxy)"),
    )
    parser.add_argument(
        "--messages-to", type=Path, metavar="FOLDER", help=_("write receipts as standard messages there, each once")
    )
    _message_options(parser)
    parser.add_argument(
        "--company-sign-on", type=Path, metavar="FILE", help=_("TOML file of the company's OpenID Connect provider")
    )
    parser.add_argument(
        "--log", default="", metavar="FILE", help=_("write one JSON line for each request; - for standard error")
    )
    parser.add_argument("--workers", type=_whole(1, 64), default=2, help=_("processes that read photos (default 2)"))
    _network_option(parser)
