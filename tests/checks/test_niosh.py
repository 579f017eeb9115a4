"""The revised NIOSH lifting equation against its manual.

Source: Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) Publication 94-110 (revised 9/2021),
doi 10.26616/NIOSHPUB94110revised092021, public domain; its tables 1 to 5 and 7 and example 4 as transcribed in
../shared/checks/niosh_rnle.json.
"""

import json
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import pytest

from receiving.staging.lifting import (
    LOAD_CONSTANT_KG,
    Coupling,
    Duration,
    Lift,
    asymmetry_multiplier,
    coupling_multiplier,
    distance_multiplier,
    frequency_multiplier,
    horizontal_multiplier,
    lifting_index,
    vertical_multiplier,
)

TABLES = Path(__file__).parents[3] / "shared" / "checks" / "niosh_rnle.json"
MISPRINT_D_CM = "130"
"""Table 3 prints 0.86 for D = 130 cm; 0.82 + 4.5/130 is 0.8546, which rounds to 0.85. A known misprint."""

IN_LB = 51.0
CM_PER_IN = 2.54


@pytest.fixture(scope="module")
def manual() -> Any:
    if not TABLES.exists():
        pytest.skip("../shared/checks/niosh_rnle.json is not here: the manual's tables cannot be compared")
    return json.loads(TABLES.read_text())


def printed(value: float) -> float:
    """As the manual prints: two places, half up (on the decimal value, not on its binary neighbour)."""
    return float(Decimal(str(round(value, 9))).quantize(Decimal("0.01"), ROUND_HALF_UP))


@pytest.mark.parametrize(
    ("table", "formula"),
    [
        ("HM_table_cm", horizontal_multiplier),
        ("VM_table_cm", vertical_multiplier),
        ("DM_table_cm", distance_multiplier),
        ("AM_table_deg", asymmetry_multiplier),
    ],
)
def test_every_cell_of_the_multiplier_tables_is_met(manual: Any, table: str, formula: Any) -> None:
    wrong = {
        at: (formula(float(at)), cell) for at, cell in manual[table].items() if printed(formula(float(at))) != cell
    }
    if table == "DM_table_cm":
        value, cell = wrong.pop(MISPRINT_D_CM)
        assert (round(value, 4), cell) == (0.8546, 0.86)
    assert wrong == {}
    assert len(manual[table]) >= 10


def frequency_cells(manual: Any) -> Iterator[tuple[float, Duration, float, float]]:
    columns = [(duration, v_cm) for duration in Duration for v_cm in (0.0, 75.0)]
    for row in manual["FM_rows"]:
        rate = 15.01 if row[0] == ">15" else row[0]
        for (duration, v_cm), cell in zip(columns, row[1:], strict=True):
            yield rate, duration, v_cm, cell


def test_every_cell_of_the_frequency_table_is_met(manual: Any) -> None:
    cells = list(frequency_cells(manual))
    assert len(cells) == 18 * 6
    assert [c for c in cells if frequency_multiplier(*c[:3]) != c[3]] == []


def test_every_cell_of_the_coupling_table_is_met(manual: Any) -> None:
    assert manual["CM"]["columns"] == ["V<75 cm", "V>=75 cm"]
    for name in Coupling:
        low, high = manual["CM"][name]
        assert (coupling_multiplier(name, 74.9), coupling_multiplier(name, 75)) == (low, high)


def test_the_load_constant_is_the_manuals(manual: Any) -> None:
    assert manual["load_constant"] == {"kg": LOAD_CONSTANT_KG, "lb": IN_LB}


@pytest.mark.parametrize(
    ("h_in", "v_in", "printed_lb", "index"),
    [(10, 22, 34.9, 0.7), (20, 59, 15.2, 1.7)],
    ids=["origin", "destination"],
)
def test_example_4_package_inspection_gives_the_printed_limit_and_index(
    h_in: float, v_in: float, printed_lb: float, index: float
) -> None:
    """Printed 34.9 and 15.2 lb (pp. 44-46); H, the load of 26 lb and both indexes are from memory of that page.

    The manual multiplies in inches and pounds: HM = 10/H in; 25 cm stands for its 10 in.
    """
    lift = Lift(
        h_cm=h_in * 2.5,
        v_cm=v_in * CM_PER_IN,
        d_cm=37 * CM_PER_IN,
        per_min=3,
        duration=Duration.SHORT,
        coupling=Coupling.FAIR,
        v_origin_cm=22 * CM_PER_IN,
    )
    limit_lb = IN_LB * lift.limit_kg / LOAD_CONSTANT_KG
    assert limit_lb == pytest.approx(printed_lb, abs=0.1)
    assert round(lifting_index(26, limit_lb) or 0, 1) == index


def test_between_two_rows_frequency_is_linear() -> None:
    assert frequency_multiplier(2.5, Duration.MODERATE, 80) == pytest.approx((0.84 + 0.79) / 2)


@pytest.mark.parametrize(
    "lift",
    [
        Lift(63.1, 75, 25),
        Lift(25, 175.1, 25),
        Lift(25, 75, 175.1),
        Lift(25, 75, 25, a_deg=135.1),
        Lift(25, 75, 25, per_min=16),
    ],
    ids=["too far out", "too high", "too long a way", "too much of a turn", "too often"],
)
def test_beyond_each_of_the_manuals_limits_no_weight_is_recommended(lift: Lift) -> None:
    assert lift.limit_kg == 0
    assert lifting_index(5, lift.limit_kg) is None


def test_the_ideal_lift_allows_the_load_constant() -> None:
    assert Lift(25, 75, 25, coupling=Coupling.GOOD).limit_kg == LOAD_CONSTANT_KG
