"""One tap is one action: sent again because its answer was lost, it is answered again and not done again."""

import hashlib
import uuid
from collections.abc import Callable, Mapping
from typing import TypeVar

import msgspec

from receiving.errors import BadRequest, Conflict
from receiving.messages import message
from receiving.service.context import Context
from receiving.store import ActionRecord
from receiving.store.records import from_text, to_text

A = TypeVar("A")


def run_once(
    ctx: Context, action_id: str, content: Mapping[str, object], work: Callable[[], A], answer_type: type[A]
) -> A:
    """Do this work under an id that its sender made (a UUID), or give the answer recorded when it was done.

    ``content`` is everything that was asked for: values that JSON can hold, in any order of names. ``work`` calls use
    cases; they, the id and the answer are stored in one transaction. ``answer_type`` is the type of the answer, which
    is kept as JSON: a value of the model, or dicts and lists of plain values. Where ``work`` fails, nothing is stored
    and the same id may be sent again. Without an id (empty) the work is done each time.

    Raises BadRequest for an id that is not a UUID, Conflict when the id came with other content before, and what
    ``work`` raises.
    """
    if not action_id:
        return work()
    answer = run_once_if_done(ctx, action_id, content, work, answer_type)
    if answer is None:
        raise LookupError(f"action {action_id} was done and gave no answer")
    return answer


def run_once_if_done(
    ctx: Context, action_id: str, content: Mapping[str, object], work: Callable[[], A | None], answer_type: type[A]
) -> A | None:
    """As `run_once`, with an id, for work that gives None where it was not done: then the id may be sent again."""
    action_id, digest = _checked(action_id), content_sha256(content)
    with ctx.transaction() as store:
        known = store.action(action_id)
        if known is None:
            done = work()
            if done is None:
                return None
            answer = to_text(done)
            store.add_action(ActionRecord(action_id, digest, answer), answered_at=ctx.now())
        elif known.content_sha256 == digest:
            answer = known.answer
        else:
            raise Conflict(
                message(
                    "The action {action_id} was sent before with other content; nothing more was stored.",
                    action_id=action_id,
                ),
                next_step=message("Reload the page and see what is stored; then do it anew."),
            )
    return from_text(answer, answer_type)


def content_sha256(content: Mapping[str, object]) -> str:
    """SHA-256 of this content as JSON with sorted names, as hex digits.

    >>> content_sha256({"a": 1, "b": [2]}) == content_sha256({"b": [2], "a": 1})
    True
    """
    return hashlib.sha256(msgspec.json.encode(content, order="deterministic")).hexdigest()


def _checked(action_id: str) -> str:
    try:
        return str(uuid.UUID(action_id))
    except ValueError:
        raise BadRequest(
            message("The action id {action_id} is not a UUID.", action_id=repr(action_id[:40])),
            next_step=message("Reload the page and do it again."),
        ) from None
