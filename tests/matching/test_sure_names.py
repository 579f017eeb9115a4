"""What surely names a carton for a device that cannot ask, what was typed for a code, and labels that say little."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from receiving.matching import certain_names
from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.identify import _digits_of_no_sscc
from receiving.matching.observations import Candidates, Matched, Observation, Reason
from receiving.matching.presence import _confidence
from receiving.matching.resolve import MOST_CHOICES, QUESTION_BELOW, _says_too_little
from receiving.model import How, LabelRead, Manifest, RawRead, Source, fact
from receiving.reading import default_patterns, interpret
from tests.matching.scenes import carton, manifest, read, sscc

NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def typed(text: str) -> LabelRead:
    return interpret(RawRead("typed", NOW, Source.TYPED, text), default_patterns())


def names(of: Manifest) -> tuple[dict[str, str], dict[str, str]]:
    found = certain_names(Catalogue(of, Elsewhere(())), typed)
    return found.codes, found.typed


def test_a_code_names_its_carton_in_every_form_and_none_where_several_share_it() -> None:
    codes, _ = names(
        manifest(
            carton("01"),
            replace(carton("02", code=0), barcode="9521234543213"),
            replace(carton("03", code=0), barcode="KX-7"),
            replace(carton("04", code=0), barcode="KX-7"),
        )
    )
    assert codes[sscc(1001).digits] == "01"
    assert codes["9521234543213"] == codes["09521234543213"] == "02"
    assert {codes[form] for form in codes if form.casefold() == "kx-7"} == {""}


def test_numbers_ids_short_codes_and_places_name_a_carton_where_they_mean_one() -> None:
    _, claimed = names(
        manifest(
            carton("07", (3, 2)),
            carton("KX-9", (4, 1), code=0),
            replace(carton("12", (5, 1), code=0), barcode="AB12"),
            replace(carton("13", (5, 1), code=0), barcode="LONGER-CODE-1"),
        )
    )
    assert claimed["7"] == claimed["07"] == claimed["3-2"] == "07"
    assert claimed["kx-9"] == claimed["4-1"] == "KX-9"
    assert claimed["ab12"] == "12"
    assert "5-1" not in claimed, "two cartons are for that place"
    assert "longer-code-1" not in claimed, "it is found among the codes"


@pytest.mark.parametrize(
    ("typed_text", "digits"),
    [
        ("39520000000000012", ["39520000000000012"]),
        ("395200000000000012", []),
        ("395200000000000013", ["395200000000000013"]),
        ("3952000000000000129", ["3952000000000000129"]),
        ("3952000000000001", []),
        ("39520000000000001299", []),
        ("(00) 3952 0000 0000 00012", ["39520000000000012"]),
        ("SSCC: 39520000000000012", ["39520000000000012"]),
        ("0039520000000000012", ["0039520000000000012", "39520000000000012"]),
        ("00395200000000000013", ["395200000000000013"]),
        ("01395200000000000013", []),
        ("3952000000000001x", []),
    ],
)
def test_digits_where_an_sscc_should_be_are_looked_for(typed_text: str, digits: list[str]) -> None:
    assert set(_digits_of_no_sscc(typed(typed_text))) == set(digits)


def test_a_machines_read_is_taken_as_it_is_unless_its_data_are_faulty() -> None:
    plain = read(1, raw="39520000000000012", barcode="39520000000000012", photo="p")
    assert list(_digits_of_no_sscc(plain)) == []
    faulty = read(1, photo="p", elements=(("00", "395200000000000013"), ("10", "123")), warnings=("wrong",))
    assert "395200000000000013" in list(_digits_of_no_sscc(faulty))
    other = read(1, raw="x", photo="p", elements=(("10", "395200000000000013"), ("00", "12")), warnings=("wrong",))
    assert list(_digits_of_no_sscc(other)) == []


def test_a_label_says_too_little_where_more_than_the_most_choices_fit_about_as_well() -> None:
    def one(*costs: float) -> Candidates:
        return Candidates(Observation((read(1),)), tuple(map(str, range(len(costs)))), costs, ())

    near = [0.0] + [QUESTION_BELOW - 0.01] * (MOST_CHOICES - 1)
    assert not _says_too_little(one(*near))
    assert _says_too_little(one(*near, QUESTION_BELOW - 0.01))
    assert not _says_too_little(one(*near, QUESTION_BELOW))
    assert _says_too_little(one(*(5.0 + cost for cost in (*near, 0.0)))), "however well the best fits"


def test_a_match_is_as_sure_as_its_best_read_and_as_the_odds() -> None:
    def of(*confidences: float, odds: float | None = None) -> Matched:
        reads = tuple(
            replace(found, raw=replace(found.raw, confidence=each))
            for found, each in ((read(n), each) for n, each in enumerate(confidences, 1))
        )
        return Matched(Observation(reads), "01", How.SSCC, fact(Reason.NO_CARTON_LABEL), odds=odds)

    assert _confidence(of(0.5)) == 0.5
    assert _confidence(of(0.25, 0.75)) == _confidence(of(0.75, 0.25)) == 0.75
    assert _confidence(of(1.0, odds=49.0)) == pytest.approx(0.98)
    assert _confidence(of(0.5, odds=1.0)) == 0.25
