"""A slow course under disturbances: the sums that every hypothesis about it is solved from.

A course is a start and terms that settle, `amplitude * (1 - exp(-t / tau_s))`. Once the time
constants are given, it is linear in all else.

Draughts last minutes, an opened window an hour, and neighbouring values share theirs: 240 values
are not 240 witnesses. Each disturbance is a first-order autoregression on top of the course. A
Kalman filter takes them out of the values and, being linear, out of every term alike (the
augmented filter of de Jong, 1991, from memory); what is left is independent, and the normal
equations of every hypothesis are sums over it. Nothing but these sums is kept: a trace of any
length has the same size, and values may come at any spacing.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logger.burn.mixture import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """What comes and goes around a course."""

    sd_k: float  # standard deviation of what it does
    tau_s: float  # how long it lasts


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What is expected of a course before it is seen, and how it is disturbed.

    `terms` lists the time constants that each term may have; a hypothesis takes one of each.
    `weights` are the hypotheses' prior probabilities, in the order of `itertools.product(*terms)`.
    """

    terms: tuple[tuple[float, ...], ...]  # s
    weights: tuple[float, ...]
    means_k: tuple[float, ...]  # of the start and of the amplitude of each term
    covariance_k2: tuple[tuple[float, ...], ...]  # of these
    disturbances: tuple[Disturbance, ...]
    inexact: float = 0.02  # of what is to come: no real course is a sum of exponentials (choice)


class Course:
    """Takes values in order of time since the start; forgets each after adding it to the sums.

    Columns are the start, every time constant of every term, and last the value itself.
    """

    def __init__(self, shape: Shape) -> None:
        import numpy as np

        self.shape = shape
        self.taus_s = np.array([tau_s for term in shape.terms for tau_s in term])
        size = 1 + len(self.taus_s) + 1
        self.sums = np.zeros((size, size))  # over the whitened rows of their outer products
        self.count = 0
        self.first_s: float | None = None
        self.last_s: float | None = None
        self._sds_k = np.array([disturbance.sd_k for disturbance in shape.disturbances])
        self._lasts_s = np.array([disturbance.tau_s for disturbance in shape.disturbances])
        # The filter's state: each disturbance, of each column and of the value; its covariance.
        self._disturbed = np.zeros((len(self._sds_k), size))
        self._covariance = np.diag(self._sds_k**2)

    def add(self, t_s: float, value: float, uncertainty: float) -> None:
        """Take a value at `t_s` and its own standard uncertainty, disturbances not counted."""
        import numpy as np

        kept, covariance = self._disturbed_at(t_s)
        new = self.columns(np.array([t_s]))[0] - kept.sum(axis=0)
        new[-1] += value
        whole_var = covariance.sum() + uncertainty * uncertainty
        gain = covariance.sum(axis=1) / whole_var
        self._disturbed = kept + np.outer(gain, new)
        self._covariance = covariance - whole_var * np.outer(gain, gain)
        self.sums += np.outer(new, new / whole_var)
        self.count += 1
        self.first_s = t_s if self.first_s is None else self.first_s
        self.last_s = t_s

    def disturbance_var(self, t_s: float) -> float:
        """Variance of all disturbances together at `t_s`, not before the last value."""
        return float(self._disturbed_at(t_s)[1].sum())

    def columns(self, t_s: "Array") -> "Array":
        """Rows at `t_s`: start and terms; the value's own column is zero."""
        import numpy as np

        rows = np.zeros((len(t_s), len(self.sums)))
        rows[:, 0] = 1.0
        rows[:, 1:-1] = -np.expm1(-t_s[:, None] / self.taus_s)
        return rows

    def rows_ahead(self, t_s: "Array") -> "Array":
        """Rows at `t_s` for a forecast: less, or in the last column plus, what is left there.

        A row times the amplitudes, plus its last column, is the value to expect.
        """
        rows: Array = self.columns(t_s) - self._keep(t_s) @ self._disturbed
        rows[:, -1] *= -1.0
        return rows

    def _keep(self, t_s: "Array") -> "Array":
        """The share of each disturbance that is left at `t_s` of what was at the last value."""
        import numpy as np

        since_s = t_s[:, None] - (t_s[:, None] if self.last_s is None else self.last_s)
        kept: Array = np.exp(-since_s / self._lasts_s)
        return kept

    def _disturbed_at(self, t_s: float) -> tuple["Array", "Array"]:
        """The filter's state at `t_s`, before a value of that moment, and its covariance."""
        import numpy as np

        keep = self._keep(np.array([t_s]))[0]
        fresh = np.diag(self._sds_k**2 * (1.0 - keep**2))
        return keep[:, None] * self._disturbed, np.outer(keep, keep) * self._covariance + fresh
