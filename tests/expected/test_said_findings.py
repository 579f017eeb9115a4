"""The check that all tests of this room run under, `conftest.everything_is_said`, can fail."""

import pytest

from receiving.errors import Fault
from receiving.expected import NotUnderstood
from receiving.messages import Message, joined, message
from tests.expected.conftest import is_said


def test_a_bare_sentence_is_found() -> None:
    assert not is_said("this is not a message at all")
    assert not is_said(Message("{what}", (("what", "this is not a message at all"),)))
    assert not is_said(joined(message("said"), "this is not a message at all"))
    assert is_said(message("said of {what}", what="Oak 3"))


def test_a_fault_and_a_reason_in_bare_words_are_refused_while_these_tests_run() -> None:
    with pytest.raises(AssertionError, match="bare words"):
        Fault(1, 0, "this is not a message")
    with pytest.raises(AssertionError, match="bare words"):
        NotUnderstood(1, "LIN+1", "this is not a message")
    assert str(Fault(1, 0, message("this is one"))) == "line 1: this is one"
