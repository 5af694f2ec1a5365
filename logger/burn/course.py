"""A slow course under draughts: the sums that every hypothesis about it is solved from.

A course is a start, terms that settle, `amplitude * (1 - exp(-t / tau_s))`, and a few changes of
its surroundings (a window opened or shut) at unknown times. Once the time constants and the times
of change are given, it is linear in all else.

Draughts last minutes, and neighbouring values share theirs: 240 values are not 240 witnesses. They
are a first-order autoregression on top of the course. A scalar Kalman filter takes it out of the
values and, being linear, out of every term alike (the augmented filter of de Jong, 1991, from
memory); what is left is independent, and the normal equations of every hypothesis are sums over
it. Nothing but these sums is kept: a trace of any length has the same size, and values may come at
any spacing.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logger.burn.mixture import Normal

if TYPE_CHECKING:
    from logger.burn.mixture import Array


_WINDOW = Normal(mean=-3.0, sd=2.0)  # K; it cools, nothing that comes unforeseen heats


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """How the surroundings may change. Figures are ours, from development burns; no source."""

    per_h: float = 0.3  # how often, in either direction
    size_k: float = 3.0  # standard deviation of what one does to the course
    tau_s: float = 350.0  # how fast the course answers: the glass does, the wax hardly
    every_s: float = 600.0  # one is sought at each multiple of this after the start
    sought: int = 48  # moments; later ones are not: a burn is eight hours old by then
    at_most: int = 2  # at once
    ahead_per_h: float = 0.07  # how often one will come that still counts at the end
    ahead: Normal = _WINDOW  # its size
    undone: float = 0.5  # the chance that what cools the course now is ended some time ...
    undone_s: float = 2400.0  # ... and after how long


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What is expected of a course before it is seen, and how it is disturbed.

    `terms` lists the time constants that each term may have; a hypothesis takes one of each.
    `weights` are the hypotheses' prior probabilities, in the order of `itertools.product(*terms)`.
    """

    terms: tuple[tuple[float, ...], ...]  # s
    weights: tuple[float, ...]
    amplitudes: tuple[Normal, ...]  # K, one a term
    start: Normal  # K
    draught_k: float  # standard deviation
    draught_s: float  # time constant
    changes: Changes
    inexact: float = 0.02  # of what is to come: no real course is a sum of exponentials (choice)


class Course:
    """Takes values in order of time since the start; forgets each after adding it to the sums.

    Columns are the start, every time constant of every term, the moments at which a change is
    sought, and last the value itself.
    """

    def __init__(self, shape: Shape) -> None:
        import numpy as np

        self.shape = shape
        self.taus_s = np.array([tau_s for term in shape.terms for tau_s in term])
        self.settled_columns = 1 + len(self.taus_s)  # start and terms
        size = self.settled_columns + shape.changes.sought + 1
        self.sums = np.zeros((size, size))  # over the whitened rows of their outer products
        self.count = 0
        self.first_s: float | None = None
        self.last_s: float | None = None
        self._draught = np.zeros(size)  # the filter's state: of each column, then of the value
        self._draught_var = shape.draught_k**2

    def add(self, t_s: float, value: float, uncertainty: float) -> None:
        """Take a value at `t_s` and its own standard uncertainty, the draught not counted."""
        import numpy as np

        keep, state_var = self.draught_at(t_s)
        new = self.columns(np.array([t_s]))[0] - keep * self._draught
        new[-1] += value
        noise_var = uncertainty * uncertainty
        whole_var = state_var + noise_var
        self._draught = keep * self._draught + state_var / whole_var * new
        self._draught_var = state_var * noise_var / whole_var
        self.sums += np.outer(new, new / whole_var)
        self.count += 1
        self.first_s = t_s if self.first_s is None else self.first_s
        self.last_s = t_s

    def draught_at(self, t_s: float) -> tuple[float, float]:
        """What is left at `t_s` of the latest draught, and the variance of what blows then."""
        shape = self.shape
        if self.last_s is None:
            return 0.0, shape.draught_k**2
        keep = math.exp(-(t_s - self.last_s) / shape.draught_s)
        return keep, shape.draught_k**2 * (1.0 - keep * keep) + keep * keep * self._draught_var

    def columns(self, t_s: "Array") -> "Array":
        """Rows at `t_s`: start, terms, changes; the value's own column is zero."""
        import numpy as np

        changes = self.shape.changes
        rows = np.zeros((len(t_s), len(self._draught)))
        rows[:, 0] = 1.0
        rows[:, 1 : self.settled_columns] = -np.expm1(-t_s[:, None] / self.taus_s)
        since_s = t_s[:, None] - changes.every_s * np.arange(1.0, changes.sought + 1.0)
        rows[:, self.settled_columns : -1] = -np.expm1(-np.maximum(since_s, 0.0) / changes.tau_s)
        return rows

    def rows_ahead(self, t_s: "Array") -> "Array":
        """Rows at `t_s` for a forecast: less, or in the last column plus, the draught left there.

        A row times the amplitudes, plus its last column, is the value to expect.
        """
        import numpy as np

        assert self.last_s is not None
        keep = np.exp(-(t_s - self.last_s) / self.shape.draught_s)[:, None]
        rows: Array = self.columns(t_s) - keep * self._draught
        rows[:, -1] *= -1.0
        return rows
