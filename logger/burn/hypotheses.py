"""A course solved: every hypothesis about it, weighed by its evidence, and what they predict.

For given time constants the rest is a linear regression with a normal prior, solved exactly
(variable projection; Golub and Pereyra 1973, from memory). Hypotheses are averaged by their
marginal likelihood (Bayesian model averaging), so that doubt about a time constant is part of the
interval.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from logger.burn.course import Course, Shape
from logger.burn.mixture import Mixture

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from logger.burn.mixture import Array

    Indices = NDArray[np.int64]

TRUSTED = 40.0  # values' worth of trust in the noise that the shape states: our choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What the values so far say of a course; the first axis counts the hypotheses."""

    course: Course
    columns: "Indices"  # of the start, and of one time constant a term
    amplitudes: "Array"
    covariance: "Array"
    weights: "Array"  # they sum to one
    noise: float  # variance of the noise, relative to what the shape states

    def expected(self, t_s: Sequence[float]) -> list[float]:
        """The course at `t_s`, not before the last value."""
        import numpy as np

        rows = self.course.rows_ahead(np.array(t_s))
        courses = (rows[:, self.columns] * self.amplitudes).sum(axis=2)
        values: list[float] = (rows[:, -1] + courses @ self.weights).tolist()
        return values

    def at(self, t_s: float) -> Mixture:
        """The value at `t_s`, disturbances to come included."""
        import numpy as np

        course = self.course
        assert course.last_s is not None
        row = course.rows_ahead(np.array([t_s]))[0]
        then, now = course.columns(np.array([t_s, course.last_s]))
        taken = row[self.columns]
        to_come = ((then - now)[self.columns] * self.amplitudes).sum(axis=1)
        variances = (taken * (self.covariance @ taken[:, :, None])[:, :, 0]).sum(axis=1)
        variances += self.noise * course.disturbance_var(t_s)
        variances += (course.shape.inexact * to_come) ** 2
        return Mixture(
            weights=self.weights,
            means=row[-1] + (taken * self.amplitudes).sum(axis=1),
            sds=np.sqrt(variances),
        )


def weigh(course: Course) -> Posterior:
    """All hypotheses, solved. Raises ValueError before the first value."""
    if course.last_s is None:
        raise ValueError("there is no value yet")
    noise = _noise(course, _solve(course, 1.0))
    return _solve(course, noise)  # again, with the noise that was found


def _noise(course: Course, posterior: Posterior) -> float:
    """Variance that the best hypothesis leaves, relative to the one stated, and held near it."""
    import numpy as np

    best = int(posterior.weights.argmax())
    taken = np.append(posterior.columns[best], -1)
    fitted = np.append(posterior.amplitudes[best], -1.0)
    left = float(fitted @ course.sums[np.ix_(taken, taken)] @ fitted)
    return (TRUSTED + left) / (TRUSTED + course.count)


def _solve(course: Course, noise: float) -> Posterior:
    """Linear regression with a normal prior, for each hypothesis."""
    import numpy as np

    prior, sums = _prior(course.shape), course.sums / noise
    columns = prior.columns
    precision = sums[columns[:, :, None], columns[:, None, :]] + prior.precision
    pull = sums[columns, -1] + prior.pull
    covariance = np.linalg.inv(precision).astype(np.float64)
    amplitudes = (covariance @ pull[:, :, None])[:, :, 0]
    fits = (amplitudes * pull).sum(axis=1) - np.linalg.slogdet(precision)[1]
    evidence = prior.log_weights + 0.5 * fits  # up to a constant common to all
    weights = np.exp(evidence - evidence.max())
    return Posterior(
        course=course,
        columns=columns,
        amplitudes=amplitudes,
        covariance=covariance,
        weights=weights / weights.sum(),
        noise=noise,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prior:
    """What is believed of a shape before it is seen, as the regression needs it."""

    columns: "Indices"
    precision: "Array"
    pull: "Array"
    log_weights: "Array"


@lru_cache(maxsize=128)  # one a place: it is asked for twice a minute
def _prior(shape: Shape) -> _Prior:
    import numpy as np

    precision = np.linalg.inv(np.array(shape.covariance_k2)).astype(np.float64)
    return _Prior(
        columns=_columns(shape),
        precision=precision,
        pull=precision @ np.array(shape.means_k),
        log_weights=np.log(shape.weights),
    )


def _columns(shape: Shape) -> "Indices":
    """Columns of the start and of one time constant of each term, for each choice of them."""
    import numpy as np

    firsts = np.cumsum([1, *(len(term) for term in shape.terms)])[:-1]
    choices = list(itertools.product(*(range(len(term)) for term in shape.terms)))
    columns = np.zeros((len(choices), 1 + len(shape.terms)), dtype=np.int64)
    columns[:, 1:] = firsts + np.array(choices)
    return columns
