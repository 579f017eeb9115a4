"""What a person reads of a result, as text in English; and results that read as a test wants them."""

from receiving.matching import Reason
from receiving.model import CartonFinding, Duplicate, Explanation, Fact, Over, Question, Unclear, fact
from receiving.wording import finding_words, whose_words, words_of


def in_words(of: CartonFinding | Duplicate | Explanation | Over | Question | Unclear) -> str:
    """Its reason in words; of an over, whose it is."""
    if isinstance(of, CartonFinding):
        return str(finding_words(of))
    return str(whose_words(of) if isinstance(of, Over) else words_of(of.why))


def verbatim(text: str) -> Fact:
    """A reason that reads like this."""
    return fact(Reason.FAULTY_DATA, fault=text)
