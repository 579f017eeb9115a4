"""Mixed integer programmes in the words of what they decide; solved by scipy's HiGHS."""

from dataclasses import dataclass, field


@dataclass
class Programme:
    """A mixed integer programme in the making: whole-number unknowns, and sums of them between two bounds."""

    gains: list[float] = field(default_factory=list)
    limits: list[int] = field(default_factory=list)
    sums: list[tuple[dict[int, int], int, int]] = field(default_factory=list)

    def unknown(self, gain: float, limit: int) -> int:
        """A new unknown from 0 to ``limit``; each unit of it gains ``gain``. Returns its number."""
        self.gains.append(gain)
        self.limits.append(limit)
        return len(self.gains) - 1

    def between(self, terms: dict[int, int], low: int, high: int) -> None:
        """The sum of unknowns times factors lies between the bounds."""
        self.sums.append((terms, low, high))

    def solve(self, limit_s: float | None = None) -> tuple[list[int], bool]:
        """The values of greatest gain, and whether that is proven; all 0 where the time was too short for any."""
        import numpy
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        entries = [(r, k, factor) for r, (terms, _, _) in enumerate(self.sums) for k, factor in terms.items()]
        rows, columns, factors = zip(*entries, strict=True)
        matrix = coo_array((factors, (rows, columns)), shape=(len(self.sums), len(self.gains)), dtype=float)
        result = milp(
            -numpy.array(self.gains),
            integrality=numpy.ones(len(self.gains)),
            bounds=Bounds(0, numpy.array(self.limits, dtype=float)),
            constraints=LinearConstraint(
                matrix.tocsr(), *zip(*[(low, high) for _, low, high in self.sums], strict=True)
            ),
            options={"mip_rel_gap": 0.0} | ({} if limit_s is None else {"time_limit": limit_s}),
        )
        if result.x is None:
            return [0] * len(self.gains), False
        return [round(value) for value in result.x], result.status == 0
