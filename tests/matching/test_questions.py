"""Questions that a person can answer in a tap: one label each, few choices, and a second look is always one of them."""

from dataclasses import replace

from receiving.matching import reconcile
from receiving.model import CartonKind, CartonState, Outcome, ReadAssigned, Source
from receiving.reading import default_patterns, interpret
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import names, told
from tests.spoken import in_words

TWO = manifest(carton("01", (1, 1)), carton("02", (1, 1)))


def test_two_torn_labels_that_say_the_same_are_two_questions() -> None:
    torn = [read(n, address=at(1, 1), photo=f"p{n}", label=1) for n in (1, 2)]
    result = reconcile(TWO, torn)
    assert [len(question.read_ids) for question in result.questions] == [1, 1]
    answered = reconcile(TWO, torn, [ReadAssigned("n1", NOON, "Ana", torn[0].read_id, "01")])
    assert names(answered.received) == ["01"]
    assert [(q.cartons, q.again) for q in answered.questions] == [(("02",), ("01",))]


def test_a_kind_that_few_missing_cartons_have_is_asked_about_and_a_kind_of_many_is_not() -> None:
    trays = [carton(f"{n:02}", (n, 1)) for n in range(1, 13)]
    kind = read(99, "TRAY", symbology="", kind="tray", photo="p", label=1)
    many = reconcile(manifest(*trays), [kind])
    assert (many.questions, told(many, 99).outcome) == ((), Outcome.UNCLEAR)
    assert "12 cartons fit" in in_words(told(many, 99))
    known = [read(n, sscc=sscc(1000 + n)) for n in range(1, 11)]
    few = reconcile(manifest(*trays), [*known, kind])
    assert [q.cartons for q in few.questions] == [("11", "12")]


def test_a_carton_that_a_later_read_throws_in_doubt_says_so() -> None:
    torn = read(1, address=at(1, 1), photo="p", label=1)
    one = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    first = reconcile(one, [read(9, sscc=sscc(1002)), torn])
    assert [q.cartons for q in first.questions] == []
    assert names(first.received) == ["01", "02"]
    photo_of_known = read(8, sscc=sscc(1002), address=at(1, 1), photo="q", label=1)
    later = reconcile(one, [read(9, sscc=sscc(1002)), torn, photo_of_known])
    doubted = later.short[0]
    assert (doubted.carton.carton, doubted.state) == ("01", CartonState.SHORT)
    assert in_words(doubted) == "A label that may be this carton waits for an answer"
    assert doubted.asked_in == (later.questions[0].question_id,)


def test_a_column_alone_is_evidence_and_half_a_line_no_extra_carton() -> None:
    cartons = [carton("01", (4, 1)), replace(carton("02", (4, 2)), kind=CartonKind.HEADER), carton("03", (5, 1))]
    expected = manifest(*cartons)
    half = interpret(read(1, "SECTION Oak COL 4 RO", symbology="", source=Source.TYPED).raw, default_patterns())
    assert (half.claim.column, half.claim.address, half.claim.section) == (4, None, "Oak")
    asked = reconcile(expected, [half])
    assert [q.cartons for q in asked.questions] == [("01", "02")]
    assert names(reconcile(expected, [read(9, sscc=sscc(1001)), half]).received) == ["01", "02"]
    with_kind = read(2, "COL 4 / HEADER", symbology="", column=4, kind="header", photo="p", label=1)
    assert names(reconcile(expected, [with_kind]).received) == ["02"]


def test_a_blurred_code_between_cartons_of_other_shipments_is_no_question_without_an_answer() -> None:
    blurred = read(1, f"00{sscc(77)}", photo="p", label=1, guided=True, alternatives=(f"00{sscc(78)}",))
    result = reconcile(TWO, [blurred])
    assert (result.questions, told(result, 1).outcome) == ((), Outcome.UNCLEAR)


def test_two_looks_at_one_numbered_label_are_one_question() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    torn = [read(n, address=at(1, 1), carton_n=9, carton_total=2, photo=f"p{n}", label=1) for n in (1, 2)]
    assert [len(question.read_ids) for question in reconcile(expected, torn).questions] == [2]
