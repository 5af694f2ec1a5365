"""What is believed of one number: a normal distribution, or several side by side."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_NEGLIGIBLE = 1e-3  # of the largest weight: 24 such together move a quantile by less than its error


@dataclass(frozen=True, slots=True, kw_only=True)
class Normal:
    """A normal distribution."""

    mean: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """Normal distributions, one a hypothesis, by their weights; these sum to one."""

    weights: "Array"
    means: "Array"
    sds: "Array"

    @property
    def mean(self) -> float:
        """Expectation."""
        return float(self.weights @ self.means)

    @property
    def sd(self) -> float:
        """Standard deviation."""
        mean = self.mean
        return math.sqrt(float(self.weights @ (self.sds**2 + (self.means - mean) ** 2)))

    def plus(self, other: Normal) -> "Mixture":
        """The sum with an independent number."""
        import numpy as np

        return Mixture(
            weights=self.weights,
            means=self.means + other.mean,
            sds=np.hypot(self.sds, other.sd),
        )

    def share_above(self, value: float) -> float:
        """Probability of more than `value`."""
        return float(self.weights @ _normal_cdf((self.means - value) / self.sds))

    def quantiles(self, shares: Sequence[float]) -> tuple[float, ...]:
        """The values below which `shares` of it lie, good to a hundredth of its width."""
        import numpy as np

        kept = self.weights > _NEGLIGIBLE * self.weights.max()
        weights, means, sds = self.weights[kept], self.means[kept], self.sds[kept]
        at = np.linspace(float((means - 5.0 * sds).min()), float((means + 5.0 * sds).max()), 200)
        below = _normal_cdf((at[:, None] - means) / sds) @ (weights / weights.sum())
        return tuple(float(value) for value in np.interp(shares, below, at))


def _normal_cdf(z: "Array") -> "Array":
    """Standard normal distribution, in error by 3e-4 at most (Page 1977); numpy has no erf."""
    import numpy as np

    value: Array = 0.5 + 0.5 * np.tanh(math.sqrt(2.0 / math.pi) * (z + 0.044715 * z * z * z))
    return value
