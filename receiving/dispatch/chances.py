"""How often a missing carton turned up before: counted, never invented."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from receiving.dispatch.rows import ShipmentRow, Wait

PRIOR = (0.5, 0.5)
"""Jeffreys' prior for a share, Beta(1/2, 1/2): H. Jeffreys, Proc. R. Soc. A 186 (1946), doi:10.1098/rspa.1946.0056."""
FEWEST_CASES = 5
"""With fewer cases no chance is stated: the prior would say more than the cases."""


@dataclass(frozen=True)
class Chance:
    """Of ``cases`` cartons that were missing as many days before their visit ``turned_up`` did so before it."""

    turned_up: int
    cases: int

    @property
    def known(self) -> bool:
        """True when there are enough cases to state a chance."""
        return self.cases >= FEWEST_CASES

    @property
    def mean(self) -> float:
        """The posterior mean of the share; the beta-binomial chance that the next one turns up."""
        a, b = PRIOR
        return (a + self.turned_up) / (a + b + self.cases)

    @property
    def interval(self) -> tuple[float, float]:
        """The 90 % credible interval of the share, equal tails of the posterior."""
        from scipy.stats import beta

        a, b = PRIOR
        posterior = beta(a + self.turned_up, b + self.cases - self.turned_up)
        return float(posterior.ppf(0.05)), float(posterior.ppf(0.95))

    def all_of(self, cartons: int) -> float:
        """The chance that ``cartons`` more all turn up, by the beta-binomial: they share the unknown share."""
        a, b = PRIOR
        chance = 1.0
        for n in range(cartons):
            chance *= (a + self.turned_up + n) / (a + b + self.cases + n)
        return chance


def learn(rows: Iterable[ShipmentRow], today: date, days_left: int) -> Chance:
    """The chance from the visits that are over: of the cartons still missing so many days before, those found in time.

    A carton that is missing the evening before a visit turns up less often than one a week before: only cases with as
    many days left count.
    """
    over = [row for row in rows if row.visit_date is not None and row.visit_date < today]
    waits = [wait for row in over for wait in row.waits if _was_missing(wait, days_left)]
    return Chance(sum(wait.found is not None and wait.found > 0 for wait in waits), len(waits))


def _was_missing(wait: Wait, days_left: int) -> bool:
    return wait.counted >= days_left and (wait.found is None or wait.found < days_left)
