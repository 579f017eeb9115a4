"""Answers to questions: one call for every code of the label in question."""

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import PhotoReading, Place, Question, Symbol
from tests.service.conftest import PlannedReader, picture

QUAD = ((1.0, 1.0), (30.0, 1.0), (30.0, 20.0), (1.0, 20.0))
TRAY_1, TRAY_2 = "00395200000000000012", "00395200000000000029"


@pytest.fixture
def question(ctx: service.Context, reader: PlannedReader) -> Question:
    """A blurred label that may be either tray: a guided read that could not rule the other out."""
    blurred = Symbol(TRAY_1, "]C1", QUAD, "guided", label=1, guided=True, confidence=0.55, alternatives=(TRAY_2,))
    reader.readings["a.png"] = PhotoReading(40, 30, (blurred,))
    service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    (asked,) = service.get_shipment(ctx, "S-1").reconciliation.questions
    return asked


def test_a_guided_read_between_two_candidates_asks_for_both(question: Question) -> None:
    assert set(question.cartons) == {"02", "03"}


def test_an_answer_settles_every_read_of_the_question(ctx: service.Context, question: Question) -> None:
    assert service.answer_question(ctx, "S-1", question.question_id, "03", by="Ada") == question
    view = service.get_shipment(ctx, "S-1")
    assert view.reconciliation.questions == ()
    assert [f.carton.carton for f in view.reconciliation.received] == ["03"]
    assert {note.by for note in view.notes} == {"Ada"}
    assert len(view.notes) == len(question.read_ids)


def test_none_of_these_leaves_no_carton_here_and_no_question(ctx: service.Context, question: Question) -> None:
    service.answer_question(ctx, "S-1", question.question_id, "", by="Ada")
    found = service.get_shipment(ctx, "S-1").reconciliation
    assert (found.questions, found.received) == ((), ())


def test_a_question_is_answered_once(ctx: service.Context, question: Question) -> None:
    service.answer_question(ctx, "S-1", question.question_id, "02", by="Ada")
    with pytest.raises(Conflict, match="settled already"):
        service.answer_question(ctx, "S-1", question.question_id, "03", by="Bo")
    assert len(service.get_shipment(ctx, "S-1").notes) == len(question.read_ids)


def test_an_answer_that_is_no_carton_of_the_shipment_stores_nothing(ctx: service.Context, question: Question) -> None:
    with pytest.raises(BadRequest, match="Carton '77' is not on the manifest"):
        service.answer_question(ctx, "S-1", question.question_id, "77", by="Ada")
    assert service.get_shipment(ctx, "S-1").notes == ()
