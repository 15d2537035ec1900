"""What a figure does not know about itself, after the GUM (JCGM 100:2008).

`standard` is u, one standard deviation, in the unit of the figure; `expanded` is U = k·u.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from operator import mul

from config.errors import DomainError
from readings.number import finite, not_negative, refused

COVERAGE_FACTOR = 2.0  # some 95 % of a normal distribution


class TooFewRepeats(DomainError):
    """Repeated readings that say nothing about their spread."""

    slug = "not-acceptable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One source of doubt: its name in words, its standard uncertainty."""

    name: str
    standard: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Independent components, and what they come to."""

    components: tuple[Component, ...]

    @property
    def combined(self) -> float:
        """Root of the sum of squares (GUM 5.1.2)."""
        return math.hypot(*(part.standard for part in self.components))

    @property
    def expanded(self) -> float:
        """U with k = 2."""
        return COVERAGE_FACTOR * self.combined

    @property
    def largest(self) -> Component:
        """The component that a better measurement should begin with."""
        return max(self.components, key=lambda part: part.standard)


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimates:
    """Values with their covariance matrix, in the order in which they were given."""

    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def standard(self, i: int) -> float:
        """Standard uncertainty of value `i`."""
        return math.sqrt(max(self.covariance[i][i], 0.0))

    def correlation(self, i: int, j: int) -> float:
        """Correlation coefficient of values `i` and `j`."""
        return self.covariance[i][j] / (self.standard(i) * self.standard(j))


def rectangular(half_width: float) -> float:
    """u of a value that lies anywhere within ± `half_width` (GUM 4.3.7)."""
    return not_negative(half_width, "half_width") / math.sqrt(3)


def independent(values: Sequence[float], standards: Sequence[float]) -> Estimates:
    """Values that share no source of doubt."""
    if len(values) != len(standards):
        raise refused("standards", f"must be {len(values)}, one for each value")
    diagonal = [not_negative(u, "standards") ** 2 for u in standards]
    return Estimates(
        values=tuple(finite(value, "values") for value in values),
        covariance=tuple(
            tuple(v if i == j else 0.0 for j in range(len(diagonal)))
            for i, v in enumerate(diagonal)
        ),
    )


def repeated(*series: Sequence[float]) -> Estimates:
    """Means of quantities that were read together several times, with their covariance.

    All series have the same length, at least two (GUM 4.2.3, 5.2.3).
    """
    rows = [[finite(x, "series") for x in one] for one in series]
    n = min((len(row) for row in rows), default=0)
    if n < 2 or any(len(row) != n for row in rows):
        raise TooFewRepeats("Read every quantity at least twice, and all equally often.")
    means = [math.fsum(row) / n for row in rows]
    away = [[x - mean for x in row] for row, mean in zip(rows, means, strict=True)]
    return Estimates(
        values=tuple(means),
        covariance=tuple(
            tuple(math.fsum(map(mul, a, b)) / (n * (n - 1)) for b in away) for a in away
        ),
    )


def propagate(model: Callable[..., Sequence[float]], inputs: Estimates) -> Estimates:
    """Outputs of `model(*values)` with the covariance that the inputs hand on (GUM 5.2.2).

    First order, by central differences: right where the model is nearly straight within u.
    """
    outputs = tuple(model(*inputs.values))
    slopes = [_slopes(model, inputs, at) for at in range(len(inputs.values))]
    covariance = [[0.0] * len(outputs) for _ in outputs]
    for i, by_i in enumerate(slopes):
        for j, by_j in enumerate(slopes):
            if shared := inputs.covariance[i][j]:
                for p, slope_p in enumerate(by_i):
                    for q, slope_q in enumerate(by_j):
                        covariance[p][q] += slope_p * slope_q * shared
    return Estimates(values=outputs, covariance=tuple(map(tuple, covariance)))


def _slopes(model: Callable[..., Sequence[float]], inputs: Estimates, at: int) -> list[float]:
    step = 1e-5 * max(abs(inputs.values[at]), inputs.standard(at), 1e-6)
    up, down = list(inputs.values), list(inputs.values)
    up[at] += step
    down[at] -= step
    return [
        (high - low) / (up[at] - down[at])
        for high, low in zip(model(*up), model(*down), strict=True)
    ]
