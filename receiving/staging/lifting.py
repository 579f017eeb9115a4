"""The revised NIOSH lifting equation, and advice for each lift on a carton's way.

Source: Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) Publication 94-110 (revised 9/2021),
doi 10.26616/NIOSHPUB94110revised092021, public domain. Lengths in centimetres, weights in kilograms.
"""

from dataclasses import dataclass
from enum import StrEnum

from receiving.messages import message
from receiving.model import ONE_PERSON_KG

LOAD_CONSTANT_KG = ONE_PERSON_KG
"""The recommended limit of a lift under ideal conditions."""

ASSUMED_TURN_DEG = 45.0
"""Where nothing is known of how people turn with a carton, between pallet, cart and floor: AM 0.86 (our choice)."""

LIMITS_OF_USE = message(
    "NIOSH lifting equation (DHHS (NIOSH) 94-110): two-handed, smooth lifts by one standing person on a dry, level, "
    "firm floor in moderate climate, at most eight hours, with room to move; not for lifts by two people, while "
    "sitting, kneeling or carrying, or for unsteady loads. How people turn with a carton is not known: 45° is assumed "
    "at both ends (multiplier 0.86). Advice only: store management, local codes and licensed practice decide."
)


class Coupling(StrEnum):
    """How well hands hold the carton; a carton of common size without handholds is fair (manual, table 6)."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


class Duration(StrEnum):
    """How long the lifting work lasts, with the recovery that the manual asks for."""

    SHORT = "up to 1 hour"
    MODERATE = "1 to 2 hours"
    LONG = "2 to 8 hours"


_FREQUENCIES = (0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
_SHORT = (1, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37, 0.34, 0.31, 0.28)
_MODERATE = (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0.23, 0.21, 0, 0, 0)
_LONG = (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.15, 0.13, 0, 0, 0, 0, 0)
_FROM_LOW = {Duration.SHORT: 12.0, Duration.MODERATE: 10.0, Duration.LONG: 8.0}
"""Table 5: the last frequency that is not zero for lifts that begin below 75 cm; above, all of the row counts."""


def horizontal_multiplier(h_cm: float) -> float:
    """HM for hands ``h_cm`` before the ankles: 25/H, 1 below 25 cm, 0 beyond 63 cm (table 1)."""
    return 0.0 if h_cm > 63 else 25 / max(25.0, h_cm)


def vertical_multiplier(v_cm: float) -> float:
    """VM for hands ``v_cm`` above the floor: 1 - 0.003 |V - 75|, 0 above 175 cm (table 2)."""
    return 0.0 if v_cm > 175 or v_cm < 0 else 1 - 0.003 * abs(v_cm - 75)


def distance_multiplier(d_cm: float) -> float:
    """DM for a vertical travel of ``d_cm``: 0.82 + 4.5/D, 1 below 25 cm, 0 beyond 175 cm (table 3)."""
    return 0.0 if d_cm > 175 else 0.82 + 4.5 / max(25.0, d_cm)


def asymmetry_multiplier(a_deg: float) -> float:
    """AM for a turn of ``a_deg``: 1 - 0.0032 A, 0 beyond 135° (table 4)."""
    return 0.0 if a_deg > 135 else 1 - 0.0032 * a_deg


def frequency_multiplier(per_min: float, duration: Duration, v_cm: float) -> float:
    """FM by lifts a minute, duration and height of the hands; between the rows of table 5 linear."""
    row: tuple[float, ...] = {Duration.SHORT: _SHORT, Duration.MODERATE: _MODERATE, Duration.LONG: _LONG}[duration]
    if v_cm < 75:
        row = tuple(fm if f <= _FROM_LOW[duration] else 0 for f, fm in zip(_FREQUENCIES, row, strict=True))
    if per_min > 15:
        return 0.0
    rate = max(per_min, _FREQUENCIES[0])
    above = next(i for i, f in enumerate(_FREQUENCIES) if f >= rate)
    if _FREQUENCIES[above] == rate:
        return float(row[above])
    low, high = _FREQUENCIES[above - 1], _FREQUENCIES[above]
    return row[above - 1] + (row[above] - row[above - 1]) * (rate - low) / (high - low)


def coupling_multiplier(coupling: Coupling, v_cm: float) -> float:
    """CM by coupling and height of the hands (table 7)."""
    low, high = {Coupling.GOOD: (1.0, 1.0), Coupling.FAIR: (0.95, 1.0), Coupling.POOR: (0.90, 0.90)}[coupling]
    return low if v_cm < 75 else high


@dataclass(frozen=True)
class Lift:
    """One end of a lift: hands ``h_cm`` before the ankles and ``v_cm`` above the floor, travel ``d_cm``."""

    h_cm: float
    v_cm: float
    d_cm: float
    a_deg: float = 0.0
    per_min: float = 0.2
    duration: Duration = Duration.SHORT
    coupling: Coupling = Coupling.FAIR
    v_origin_cm: float | None = None

    @property
    def multipliers(self) -> tuple[float, float, float, float, float, float]:
        """HM, VM, DM, AM, FM, CM at full precision; frequency counts at the height where the lift begins."""
        begins_cm = self.v_cm if self.v_origin_cm is None else self.v_origin_cm
        return (
            horizontal_multiplier(self.h_cm),
            vertical_multiplier(self.v_cm),
            distance_multiplier(self.d_cm),
            asymmetry_multiplier(self.a_deg),
            frequency_multiplier(self.per_min, self.duration, begins_cm),
            coupling_multiplier(self.coupling, self.v_cm),
        )

    @property
    def limit_kg(self) -> float:
        """The recommended weight limit (RWL): 23 kg times the six multipliers."""
        limit = LOAD_CONSTANT_KG
        for multiplier in self.multipliers:
            limit *= multiplier
        return limit


def lifting_index(weight_kg: float, limit_kg: float) -> float | None:
    """Weight over recommended limit; None where the limit is zero: no such lift is recommended."""
    return weight_kg / limit_kg if limit_kg > 0 else None
