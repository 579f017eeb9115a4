"""Programs that are told, messages for partners, and what is taken out: what a terminal shows of each."""

import json
import re
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.commands.data_folder import rows_words
from receiving.commands.webhook import _words
from receiving.model import Place
from receiving.store import Delivery
from receiving.wording import stored_words
from tests.commands.test_commands import MANIFEST
from tests.commands.test_office_commands import output_of
from tests.planned_reader import PlannedReader
from tests.service.conftest import picture
from tests.service.test_records import confirm, scan

LOOPBACK = ["--webhook-network", "127.0.0.0/8"]


@pytest.fixture
def data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    assert run(["import", str(tmp_path / "manifest.csv"), "--data", str(tmp_path / "data")]) == 0
    capsys.readouterr()
    return tmp_path / "data"


@contextmanager
def context_of(data: Path, days_ago: int = 0) -> Iterator[service.Context]:
    with service.Context(data, PlannedReader(), now=lambda: datetime.now(UTC) - timedelta(days=days_ago)) as ctx:
        yield ctx


# --- programs that are told ----------------------------------------------------------------------------------------


@pytest.fixture
def nobody() -> str:
    """An address at which no program listens."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return f"http://127.0.0.1:{taken.getsockname()[1]}/told"


@pytest.fixture
def webhook(data: Path, nobody: str, capsys: pytest.CaptureFixture[str]) -> str:
    """The id of a webhook for two events of two stores."""
    events = ["--event", "shipment_short", "--event", "receipt_sealed", "--store", "0417", "--store", "0100"]
    output = output_of(capsys, ["webhook", "add", nobody, *events, *LOOPBACK, "--data", str(data)])
    found = re.fullmatch(r"(\S+)\nIts secret, shown only this once: (\S+)\n", output)
    assert found, output
    with context_of(data) as ctx:
        (kept,) = service.list_webhooks(ctx)
    assert (kept.webhook_id, kept.secret) == found.groups()
    return found[1]


def test_a_private_address_is_told_of_only_where_its_network_was_named(
    data: Path, nobody: str, capsys: pytest.CaptureFixture[str]
) -> None:
    output = output_of(capsys, ["webhook", "add", nobody, "--event", "shipment_short", "--data", str(data)], 1)
    assert "127.0.0.1" in output
    assert output_of(capsys, ["webhook", "list", "--data", str(data)]) == "No program is notified of anything.\n"
    assert output_of(capsys, ["webhook", "list", "--json", "--data", str(data)]) == ""


def test_webhooks_are_listed_with_their_events_and_stores(
    data: Path, nobody: str, webhook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    at = ["--data", str(data)]
    output = output_of(capsys, ["webhook", "list", *at])
    assert output == f"{webhook}  {nobody}: receipt_sealed, shipment_short; stores 0100, 0417\n"
    assert json.loads(output_of(capsys, ["webhook", "list", "--json", *at])) == {
        "webhook": webhook,
        "url": nobody,
        "events": ["receipt_sealed", "shipment_short"],
        "stores": ["0100", "0417"],
        "programmes": None,
    }
    output_of(capsys, ["webhook", "add", nobody, "--event", "advice_changed", "--programme", "Autumn", *LOOPBACK, *at])
    assert f"{nobody}: advice_changed; all stores, programmes Autumn\n" in output_of(capsys, ["webhook", "list", *at])
    both = [json.loads(line) for line in output_of(capsys, ["webhook", "list", "--json", *at]).splitlines()]
    others = [(each["stores"], each["programmes"]) for each in both if each["webhook"] != webhook]
    assert others == [(None, ["Autumn"])]


def test_a_webhook_that_was_ended_is_told_nothing_more(
    data: Path, webhook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    at = ["--data", str(data)]
    assert output_of(capsys, ["webhook", "end", webhook, *at]) == "It is no longer notified.\n"
    assert output_of(capsys, ["webhook", "list", *at]).endswith("; stores 0100, 0417, ended\n")
    assert "There is no such webhook in use." in output_of(capsys, ["webhook", "try", webhook, *at], 1)


def test_a_new_secret_is_shown_once_and_the_old_one_signs_for_a_day(
    data: Path, webhook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with context_of(data) as ctx:
        before = service.list_webhooks(ctx)[0].secret
    output = output_of(capsys, ["webhook", "secret", webhook, "--data", str(data)])
    with context_of(data) as ctx:
        (after,) = service.list_webhooks(ctx)
    assert (after.old_secret, after.secret == before) == (before, False)
    assert output == (
        f"The new secret, shown only this once: {after.secret}\n"
        "Messages are signed with the old one too for 24 hours.\n"
    )


def test_what_did_not_arrive_is_listed_and_sent_again(
    data: Path, webhook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    at = ["--data", str(data)]
    assert output_of(capsys, ["webhook", "deliveries", *at]) == "Nothing was sent yet.\n"
    assert output_of(capsys, ["webhook", "deliveries", "--json", *at]) == ""
    output_of(capsys, ["webhook", "try", webhook, *at])
    waiting = json.loads(output_of(capsys, ["webhook", "deliveries", "--json", *at]))
    assert (waiting["tries"], waiting["fault"], waiting["delivered_at"]) == (0, "", None)
    with context_of(data) as ctx:
        ctx.webhook_networks = service.read_networks(["127.0.0.0/8"])
        assert service.send_due(ctx) == 1
        (sent,) = service.list_webhook_deliveries(ctx)
    assert sent.next_at
    assert json.loads(output_of(capsys, ["webhook", "deliveries", "--json", *at])) == {
        "delivery": sent.delivery_id,
        "webhook": webhook,
        "event": "trial",
        "event_id": sent.event_id,
        "shipment": "",
        "at": sent.at.isoformat(),
        "tries": 1,
        "answer": 0,
        "fault": str(stored_words(sent.fault)),
        "delivered_at": None,
        "next_at": sent.next_at.isoformat(),
    }
    output = output_of(capsys, ["webhook", "deliveries", *at])
    assert output.startswith(f"{sent.delivery_id}  {sent.at:%Y-%m-%d %H:%M} UTC  trial : tried 1 time, next ")
    assert output.endswith(f"; {stored_words(sent.fault)}\n") and sent.fault
    assert (
        output_of(capsys, ["webhook", "again", str(sent.delivery_id), *at]) == "The running service sends it again.\n"
    )
    assert json.loads(output_of(capsys, ["webhook", "deliveries", "--json", *at]))["tries"] == 0
    output_of(capsys, ["webhook", "try", webhook, *at])
    lines = output_of(capsys, ["webhook", "deliveries", "--most", "1", *at]).splitlines()
    assert len(lines) == 1 and not lines[0].startswith(f"{sent.delivery_id} "), "the newest is first"


AT = datetime(2026, 3, 5, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("tries", "answer", "fault", "delivered_at", "next_at", "words"),
    [
        (1, 204, "", AT, None, "delivered 2026-03-05 09:30 UTC, answered 204"),
        (0, 0, "", None, AT, "tried 0 times, next 2026-03-05 09:30 UTC"),
        (1, 500, "It answered 500.", None, AT, "tried 1 time, next 2026-03-05 09:30 UTC; It answered 500."),
        (9, 0, "No answer.", None, None, "tried 9 times, given up; No answer."),
    ],
)
def test_a_delivery_is_delivered_or_tried_again_or_given_up(
    tries: int, answer: int, fault: str, delivered_at: datetime | None, next_at: datetime | None, words: str
) -> None:
    delivery = Delivery(1, "w", "e", "trial", "S-1", AT, "{}", tries, next_at, delivered_at, answer, fault)
    assert str(_words(delivery)) == words


# --- messages ------------------------------------------------------------------------------------------------------


def test_messages_are_written_once_and_where_a_base_is_given_as_events_too(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with context_of(data) as ctx:
        scan(ctx, "]C100395200000000000012")
        confirm(ctx)
    out, at = data.parent / "out", ["--data", str(data)]
    out.mkdir()
    words = ["messages", "--out", str(out), *at]
    output = output_of(capsys, [*words, "--sender-id", "REGALHAUS", "--receiver-id", "SHIPPER"])
    assert output == f"2 messages are written to {out}\n"
    assert sorted(path.suffix for path in out.iterdir()) == [".edi", ".x12"]
    text = (out / "receipt-S-1-1.x12").read_text()
    assert text.index("REGALHAUS") < text.index("SHIPPER"), "who sends stands before who receives (X12 ISA06, ISA08)"
    assert output_of(capsys, words) == f"0 messages are written to {out}\n"
    assert output_of(capsys, [*words, "--again", "--message", "edi"]) == f"1 message is written to {out}\n"
    output = output_of(capsys, [*words, "--base", "https://receiving.example"])
    assert (output, (out / "receipt-S-1-1.jsonld").exists()) == (f"1 message is written to {out}\n", True)


def test_a_message_that_cannot_be_written_is_named_and_the_status_is_1(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with context_of(data) as ctx:
        scan(ctx, "]C100395200000000000012")
        confirm(ctx)
    out = data.parent / "out"
    (out / "receipt-S-1-1.x12" / "in the way").mkdir(parents=True)
    assert run(["messages", "--out", str(out), "--message", "x12", "--data", str(data)]) == 1
    seen = capsys.readouterr()
    assert seen.err.startswith("Receipt 1 of shipment S-1 as ") and "could not be written" in seen.err
    assert seen.out == f"0 messages are written to {out}\n"
    output = output_of(capsys, ["messages", "--out", str(data / "inside"), "--data", str(data)], 1)
    assert "is in the data folder that it is made from" in output


# --- what is taken out ---------------------------------------------------------------------------------------------


@pytest.fixture
def old(data: Path) -> Path:
    """Two photos of 60 days ago, one of which a receipt by Ida Berg shows."""
    with context_of(data, days_ago=60) as ctx:
        shown = service.add_photo(ctx, "S-1", "bent.png", picture("red"), place=Place.DOCK, by="Ida Berg").photo
        service.add_note(
            ctx, "S-1", "damage_noted", by="Ida Berg", carton="02", reason="arrived_damaged", usable="false",
            photo=shown,
        )  # fmt: skip
        confirm(ctx)
        service.add_photo(ctx, "S-1", "pile.png", picture("blue"), place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
    return data


def test_old_photos_go_unless_it_is_a_trial_or_a_receipt_shows_them(
    old: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["prune", "--older-than", "30", "--data", str(old)]
    files = sorted(path for path in (old / "photos").rglob("*") if path.is_file())
    size = {path: path.stat().st_size for path in files}
    plain = json.loads(output_of(capsys, [*words, "--dry-run", "--json"]))
    (gone,) = plain["photos"]
    assert plain == {
        "dry_run": True,
        "days": 30,
        "photos": [gone],
        "size_bytes": next(size[path] for path in files if gone in path.name),
        "kept": 1,
    }
    stays = "1 photo of that age stays, since a receipt shows it (--with-receipts).\n"
    output = output_of(capsys, [*words, "--dry-run"])
    assert output == f"1 photo would be removed, {plain['size_bytes'] / 2**20:.1f} MB, after 30 days.\n{stays}"
    assert sorted(path for path in (old / "photos").rglob("*") if path.is_file()) == files, "a trial takes nothing out"
    assert output_of(capsys, words) == f"1 photo was removed, 0.0 MB, after 30 days.\n{stays}"
    assert not [path for path in (old / "photos").rglob("*") if gone in path.name]
    assert output_of(capsys, [*words, "--with-receipts"]) == "1 photo was removed, 0.0 MB, after 30 days.\n"
    assert output_of(capsys, ["prune", "--older-than", "90", "--data", str(old)]).startswith("0 photos were removed")
    assert "No rule is set." in output_of(capsys, ["prune", "--data", str(old)], 1)


def test_the_size_of_what_goes_is_in_megabytes_of_2_to_the_20(
    old: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    found = service.Pruning(30, ("a", "b"), 3 * 1024 * 1024, 2)
    monkeypatch.setattr(service, "prune_photos", lambda *_, **__: found)
    assert output_of(capsys, ["prune", "--data", str(old)]) == (
        "2 photos were removed, 3.0 MB, after 30 days.\n"
        "2 photos of that age stay, since a receipt shows them (--with-receipts).\n"
    )


def test_a_name_is_taken_out_and_what_stands_in_its_place_is_told(
    old: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["erase-name", "Ida Berg", "--data", str(old)]
    plain = json.loads(output_of(capsys, [*words, "--dry-run", "--json"]))
    assert (plain["dry_run"], plain["name"], plain["receipts"]) == (True, "Ida Berg", 1)
    rows = str(rows_words(plain["rows"]))
    assert "1 receipt" in rows.split(", ") and len(rows.split(", ")) == len(plain["rows"])
    output = output_of(capsys, [*words, "--dry-run"])
    assert output == f"Ida Berg would be taken out of {rows}; 1 receipt would be sealed anew.\n"
    first, mark = output_of(capsys, words).splitlines()
    assert first == f"Ida Berg was taken out of {rows}; 1 receipt was sealed anew."
    assert re.fullmatch(
        r"\[name erased on .*\] now stands in its place\. Backups made earlier still hold the name\.", mark
    )
    with context_of(old) as ctx:
        assert service.get_receipt(ctx, "S-1", 1).name.startswith("[name erased on ")
    again = output_of(capsys, [*words, "--json"], 1)
    assert "Ida Berg" in again
