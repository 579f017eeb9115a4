"""What can be typed: every command with every option, what it means, and what each is where it is left out."""

import argparse
from pathlib import Path

import pytest

from receiving import cli
from receiving.cli import parse
from receiving.model.limits import PHOTO_LIMIT_S

SENDING = {"message": None, "sender_id": "", "receiver_id": "", "base": ""}
SERVING = {
    "host": "127.0.0.1",
    "port": 8417,
    "allow_host": [],
    "tls": False,
    "proxy": "",
    "proxy_user_header": "",
    "webhook_network": [],
    "company_sign_on": None,
    "messages_to": None,
    **SENDING,
    "log": "",
    "workers": 2,
}
DATA = {"data": Path("data")}
PLAIN: dict[str, tuple[list[str], str, dict[str, object]]] = {
    "demo": ([], "serve", {"no_serve": False, "json": False, "data": None, **SERVING}),
    "read": (["a.jpg"], "read", {"photos": [Path("a.jpg")], "manifest": None, "json": False, "limit_s": PHOTO_LIMIT_S}),
    "reconcile": (
        ["--manifest", "m.csv"],
        "reconcile",
        {
            "manifest": Path("m.csv"), "shipment": None, "others": [], "layout": None, "photos": [], "scans": None,
            "patterns": None, "json": False, "limit_s": PHOTO_LIMIT_S,
        },
    ),
    "import": (
        ["m.csv"],
        "imports",
        {"files": [Path("m.csv")], "preview": False, "shipper": "", "restore_zeros": False, "json": False, **DATA},
    ),
    "template": ([], "imports", {"out": Path()}),
    "add": (
        ["S-1"],
        "shipment",
        {
            "shipment": "S-1", "photos": [], "scans": [], "codes": [], "notes": [], "by": "", "place": "other",
            "workers": 2, "json": False, **DATA,
        },
    ),
    "export": (["S-1", "--out", "r.csv"], "shipment", {"shipment": "S-1", "out": Path("r.csv"), **DATA}),
    "overview": ([], "dispatch", {"days": None, "json": False, **DATA}),
    "swaps": ([], "dispatch", {"take": None, "take_all": False, "by": "", "lanes": None, "json": False, **DATA}),
    "serve": ([], "serve", {**SERVING, **DATA}),
    "verify": (["r.record"], "receipts", {"file": Path("r.record"), "data": None}),
    "keys": ([], "receipts", {"rotate": False, **DATA}),
    "prune": ([], "data_folder", {"older_than": None, "with_receipts": False, "dry_run": False, "json": False, **DATA}),
    "erase-name": (["Ida"], "data_folder", {"name": "Ida", "dry_run": False, "json": False, **DATA}),
    "messages": (["--out", "f"], "receipts", {"out": Path("f"), "again": False, **SENDING, **DATA}),
    "labels": (
        ["--manifest", "m.csv", "--out", "l.pdf"],
        "labels",
        {
            "manifest": Path("m.csv"), "shipment": None, "carton": [], "stock": "4x6in", "dpi": 300, "units": "metric",
            "sender": [], "offset_mm": (0.0, 0.0), "link_host": "https://id.gs1.org", "out": Path("l.pdf"),
        },
    ),
    "void": (["S-1"], "shipment", {"shipment": "S-1", "undo": False, "reason": "", "by": "", "json": False, **DATA}),
    "backup": (["--out", "b.zip"], "data_folder", {"out": Path("b.zip"), "json": False, **DATA}),
    "restore": (["b.zip"], "data_folder", {"backup": Path("b.zip"), "json": False, **DATA}),
    "check": ([], "data_folder", {"json": False, **DATA}),
    "doctor": ([], "doctor", {"json": False, **DATA}),
    "test": ([], "test", {"rest": []}),
}  # fmt: skip
"""Each command with no more than it needs: its words, the module that does it, and all its options."""

GIVEN: tuple[tuple[str, str, dict[str, object]], ...] = (
    ("demo", "--no-serve", {"no_serve": True}),
    ("demo", "--json", {"json": True}),
    ("demo", "--data d", {"data": Path("d")}),
    ("demo", "--port 0 --workers 1", {"port": 0, "workers": 1}),
    ("read", "b.jpg --manifest m --json --limit-s 2.5",
     {"photos": [Path("a.jpg"), Path("b.jpg")], "manifest": Path("m"), "json": True, "limit_s": 2.5}),
    ("reconcile", "--shipment S --others a b --layout l --photos p q --scans s --patterns t --json --limit-s 9",
     {"shipment": "S", "others": [Path("a"), Path("b")], "layout": Path("l"), "photos": [Path("p"), Path("q")],
      "scans": Path("s"), "patterns": Path("t"), "json": True, "limit_s": 9.0}),
    ("import", "n.csv --preview --shipper N --restore-zeros --json --data d",
     {"files": [Path("m.csv"), Path("n.csv")], "preview": True, "shipper": "N", "restore_zeros": True, "json": True,
      "data": Path("d")}),
    ("template", "--out f", {"out": Path("f")}),
    ("add", "--photos p q --scans s t --codes 1 2 --notes n o --by Ada --place dock --workers 64 --json --data d",
     {"photos": [Path("p"), Path("q")], "scans": [Path("s"), Path("t")], "codes": ["1", "2"],
      "notes": [Path("n"), Path("o")], "by": "Ada", "place": "dock", "workers": 64, "json": True, "data": Path("d")}),
    ("export", "--data d", {"data": Path("d")}),
    ("overview", "--days 0 --json --data d", {"days": 0, "json": True, "data": Path("d")}),
    ("overview", "--days 36500", {"days": 36500}),
    ("serve", "--host 0.0.0.0 --port 65535 --allow-host a --allow-host b --tls --proxy 127.0.0.1 "
     "--proxy-user-header X-User --webhook-network 192.0.2.0/24 --log - --workers 4 --data d",
     {"host": "0.0.0.0", "port": 65535, "allow_host": ["a", "b"], "tls": True, "proxy": "127.0.0.1",
      "proxy_user_header": "X-User", "webhook_network": ["192.0.2.0/24"], "log": "-", "workers": 4, "data": Path("d")}),
    ("verify", "--data d", {"data": Path("d")}),
    ("keys", "--rotate --data d", {"rotate": True, "data": Path("d")}),
    ("prune", "--older-than 365 --with-receipts --dry-run --json --data d",
     {"older_than": 365, "with_receipts": True, "dry_run": True, "json": True, "data": Path("d")}),
    ("erase-name", "--dry-run --json --data d", {"dry_run": True, "json": True, "data": Path("d")}),
    ("messages", "--again --message x12 --message edi --sender-id A --receiver-id B --base https://a.example --data d",
     {"again": True, "message": ["x12", "edi"], "sender_id": "A", "receiver_id": "B", "base": "https://a.example",
      "data": Path("d")}),
    ("serve", "--messages-to f --company-sign-on s.toml",
     {"messages_to": Path("f"), "company_sign_on": Path("s.toml")}),
    ("labels", "--shipment S --carton 01 02 --stock a6 --dpi 203 --units us --sender A B --offset-mm 1 -2.5 "
     "--link-host https://a.example",
     {"shipment": "S", "carton": ["01", "02"], "stock": "a6", "dpi": 203, "units": "us", "sender": ["A", "B"],
      "offset_mm": [1.0, -2.5], "link_host": "https://a.example"}),
    ("labels", "--dpi 200", {"dpi": 200}),
    ("labels", "--dpi 600", {"dpi": 600}),
    ("void", "--undo --reason why --by Ada --json --data d",
     {"undo": True, "reason": "why", "by": "Ada", "json": True, "data": Path("d")}),
    ("backup", "--json --data d", {"json": True, "data": Path("d")}),
    ("restore", "--json --data d", {"json": True, "data": Path("d")}),
    ("check", "--json --data d", {"json": True, "data": Path("d")}),
    ("doctor", "--json --data d", {"json": True, "data": Path("d")}),
    ("test", "-q tests/matching -k one", {"rest": ["-q", "tests/matching", "-k", "one"]}),
)  # fmt: skip

USERS = (
    ("add Ada --role rep", {"deed": "add", "name": "Ada", "role": "rep", "store": None}),
    ("add Ada --role coordinator --store 0417 --store 0422",
     {"deed": "add", "name": "Ada", "role": "coordinator", "store": ["0417", "0422"]}),
    ("add Ada --role store_manager", {"deed": "add", "name": "Ada", "role": "store_manager", "store": None}),
    ("password Ada", {"deed": "password", "name": "Ada"}),
    ("close Ada", {"deed": "close", "name": "Ada"}),
    ("open Ada", {"deed": "open", "name": "Ada"}),
    ("sign-on Ada u-417", {"deed": "sign-on", "name": "Ada", "subject": "u-417"}),
    ("sign-on Ada", {"deed": "sign-on", "name": "Ada", "subject": ""}),
    ("add Ada --role rep --programme Spring", {"deed": "add", "name": "Ada", "role": "rep", "programme": ["Spring"]}),
    ("list", {"deed": "list"}),
)  # fmt: skip


WEBHOOKS = (
    ("add https://a.example --event receipt_sealed --event shipment_short --store 1 --store 2",
     {"deed": "add", "url": "https://a.example", "event": ["receipt_sealed", "shipment_short"], "store": ["1", "2"]}),
    ("list", {"deed": "list", "json": False}),
    ("list --json", {"deed": "list", "json": True}),
    ("deliveries", {"deed": "deliveries", "most": 100, "json": False}),
    ("deliveries --most 10000 --json", {"deed": "deliveries", "most": 10_000, "json": True}),
    ("again 7", {"deed": "again", "delivery": 7}),
)  # fmt: skip


def options(command: str, words: list[str]) -> dict[str, object]:
    found = vars(parse([command, *words]))
    assert found.pop("command") == command
    return found


@pytest.fixture(autouse=True)
def limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real one, which other tests of commands stretch."""
    monkeypatch.setattr(cli, "PHOTO_LIMIT_S", PHOTO_LIMIT_S)


@pytest.mark.parametrize("command", PLAIN)
def test_a_command_without_options_is_as_the_help_says(command: str) -> None:
    words, module, wanted = PLAIN[command]
    found = options(command, words)
    assert {name: found.get(name, "-") for name in ("module", *wanted)} == {"module": module, **wanted}


@pytest.mark.parametrize(("command", "words", "wanted"), GIVEN, ids=lambda given: str(given)[:40])
def test_every_option_means_what_its_name_says(command: str, words: str, wanted: dict[str, object]) -> None:
    needed, module, plain = PLAIN[command]
    found = options(command, [*needed, *words.split()])
    meant = {"module": module, **plain, **wanted}
    assert {name: found.get(name, "-") for name in meant} == meant


@pytest.mark.parametrize(("words", "wanted"), USERS, ids=lambda given: str(given)[:30])
def test_accounts_are_added_listed_and_changed(words: str, wanted: dict[str, object]) -> None:
    found = options("user", words.split())
    meant = {"module": "user", **DATA, **wanted}
    assert {name: found.get(name, "-") for name in meant} == meant
    assert options("user", [*words.split(), "--data", "d"])["data"] == Path("d")


@pytest.mark.parametrize(("words", "wanted"), WEBHOOKS, ids=lambda given: str(given)[:30])
def test_webhooks_are_added_listed_and_sent_again(words: str, wanted: dict[str, object]) -> None:
    found = options("webhook", words.split())
    assert {name: found[name] for name in (*wanted, "module", "data")} == {"module": "webhook", **DATA, **wanted}
    assert options("webhook", [*words.split(), "--data", "d"])["data"] == Path("d")


@pytest.mark.parametrize(
    "words",
    [
        "", "raed", "read", "reconcile", "import", "add", "export S", "verify", "labels --out l", "labels --manifest m",
        "void", "backup", "restore", "user", "user add Ada", "user add Ada --role chief", "user password",
        "serve --port 65536", "serve --port -1", "serve --workers 0", "serve --workers 65", "serve --port x",
        "overview --days -1", "overview --days 36501", "overview --days 1.5", "overview --days ٣",
        "read a --limit-s 0", "read a --limit-s 86401", "read a --limit-s nan", "read a --limit-s x",
        "labels --manifest m --out l --dpi 150", "labels --manifest m --out l --units stone",
        "labels --manifest m --out l --offset-mm 1", "add S --place moon", "check --loud", "export S --out r more",
        "webhook", "webhook add https://a --event weather", "webhook add https://a", "webhook again 0", "webhook try",
    ],
)  # fmt: skip
def test_wrong_words_end_with_2(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        parse(words.split())
    assert ended.value.code == 2
    assert "usage: receiving" in capsys.readouterr().err


@pytest.mark.parametrize(("words", "value"), [("0.001", 0.001), ("86400", 86400.0)])
def test_a_limit_of_seconds_is_above_0_and_up_to_a_day(words: str, value: float) -> None:
    assert parse(["read", "a.jpg", "--limit-s", words]).limit_s == value


@pytest.mark.parametrize("command", [[], *([name] for name in PLAIN), *(["user", deed] for deed in ("add", "list"))])
def test_every_command_explains_itself_and_each_of_its_options(
    command: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    with pytest.raises(SystemExit) as ended:
        parse([*command, "--help"])
    assert ended.value.code == 0
    output = capsys.readouterr().out
    assert output.startswith(f"usage: {' '.join(['receiving', *command])}")
    assert len(output.split()) > 10
    if not command:
        assert (
            "Exit status: 0 complete, 1 could not do the work, 2 wrong usage, 3 done, with shorts or overs." in output
        )
        assert [name for name in (*PLAIN, "user", "webhook") if f"\n    {name}" not in output] == []
    if command == ["test"]:
        assert "Further arguments are handed to pytest." in output


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    from receiving import __version__

    with pytest.raises(SystemExit):
        parse(["--version"])
    assert capsys.readouterr().out == f"receiving {__version__}\n"


def test_no_command_is_left_out_here() -> None:
    (commands,) = [a for a in cli._parser()._actions if isinstance(a, argparse._SubParsersAction)]
    assert set(commands.choices) == {*PLAIN, "user", "webhook"}
