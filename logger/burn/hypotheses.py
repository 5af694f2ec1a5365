"""A course solved: every hypothesis about it, weighed by its evidence, and what they foretell.

For given time constants and times of change the rest is a linear regression with normal priors,
solved exactly (variable projection; Golub and Pereyra 1973, from memory). Hypotheses are averaged
by their marginal likelihood (Bayesian model averaging), so that doubt about a time constant, or
about a window, is part of the interval. The times of change are found one after the other, the
likeliest combinations being kept (a beam search).
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logger.burn.course import Course, Shape
from logger.burn.mixture import Mixture

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from logger.burn.mixture import Array

    Indices = NDArray[np.int64]

BEAM = 24  # combinations kept at each number of changes: 40 change no figure by 2 % (measured)
TRUSTED = 40.0  # values' worth of trust in the noise that the shape states: our choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Hypotheses with the same number of changes, solved; the first axis counts them."""

    columns: "Indices"
    amplitudes: "Array"
    covariance: "Array"
    evidence: "Array"  # natural logarithm, up to a constant common to all


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What the values so far say of a course; `weights` sum to one over all groups."""

    course: Course
    groups: tuple[Group, ...]
    weights: tuple["Array", ...]
    noise: float  # variance of the noise, relative to what the shape states

    def expected(self, t_s: Sequence[float]) -> list[float]:
        """The course at `t_s`, not before the last value, if nothing new changes it."""
        import numpy as np

        rows = self.course.rows_ahead(np.array(t_s))
        undone = self._undone(np.array(t_s))
        mean = rows[:, -1].copy()
        for group, weights in zip(self.groups, self.weights, strict=True):
            parts, cooled = self._parts(rows, group)
            mean += (parts - undone[:, None] * cooled) @ weights
        values: list[float] = mean.tolist()
        return values

    def at(self, t_s: float) -> Mixture:
        """The value at `t_s`, draught and changes that may come included."""
        import numpy as np

        course, changes = self.course, self.course.shape.changes
        assert course.last_s is not None
        ahead_s = t_s - course.last_s
        rows = course.rows_ahead(np.array([t_s]))
        then, now = course.columns(np.array([t_s, course.last_s]))
        noise_var = self.noise * course.draught_at(t_s)[1]
        undone = float(self._undone(np.array([t_s]))[0])
        means, variances = [], []
        for group in self.groups:
            parts, cooled = self._parts(rows, group)
            taken = rows[0, group.columns]
            to_come = ((then - now)[group.columns] * group.amplitudes).sum(axis=1)
            means.append(rows[0, -1] + parts[0] - undone * cooled[0])
            variances.append(
                (taken * (group.covariance @ taken[:, :, None])[:, :, 0]).sum(axis=1)
                + noise_var
                + undone * (1.0 - undone) * cooled[0] ** 2
                + (course.shape.inexact * to_come) ** 2
            )
        weights, mean = np.concatenate(self.weights), np.concatenate(means)
        variance = np.concatenate(variances)
        comes = -math.expm1(-changes.ahead_per_h * ahead_s / 3600.0)
        return Mixture(
            weights=np.concatenate([weights * (1.0 - comes), weights * comes]),
            means=np.concatenate([mean, mean + changes.ahead.mean]),
            sds=np.sqrt(np.concatenate([variance, variance + changes.ahead.sd**2])),
        )

    def first(self, count: int) -> tuple["Array", "Indices", "Array", "Array"]:
        """Weights, columns, amplitudes and covariances of the first `count` columns."""
        import numpy as np

        return (
            np.concatenate(self.weights),
            np.concatenate([group.columns[:, :count] for group in self.groups]),
            np.concatenate([group.amplitudes[:, :count] for group in self.groups]),
            np.concatenate([group.covariance[:, :count, :count] for group in self.groups]),
        )

    def _undone(self, t_s: "Array") -> "Array":
        """The chance that what cools the course now has ended by `t_s`."""
        import numpy as np

        changes = self.course.shape.changes
        assert self.course.last_s is not None
        chance: Array = -changes.undone * np.expm1((self.course.last_s - t_s) / changes.undone_s)
        return chance

    def _parts(self, rows: "Array", group: Group) -> tuple["Array", "Array"]:
        """For each row and hypothesis the course, and what its changes take from it."""
        import numpy as np

        parts = rows[:, group.columns] * group.amplitudes
        settled = 1 + len(self.course.shape.terms)
        return parts.sum(axis=2), np.minimum(parts[:, :, settled:].sum(axis=2), 0.0)


def weigh(course: Course) -> Posterior:
    """All hypotheses that are left. Raises ValueError before the first value."""
    import numpy as np

    if course.last_s is None:
        raise ValueError("there is no value yet")
    groups = _search(course, course.sums)
    noise = _noise(course, groups)
    groups = _search(course, course.sums / noise)  # again, with the noise that was found
    evidence = np.concatenate([group.evidence for group in groups])
    weights = np.exp(evidence - evidence.max())
    weights /= weights.sum()
    ends = np.cumsum([len(group.evidence) for group in groups])[:-1]
    return Posterior(
        course=course, groups=tuple(groups), weights=tuple(np.split(weights, ends)), noise=noise
    )


def _noise(course: Course, groups: Sequence[Group]) -> float:
    """Variance that the best hypothesis leaves, relative to the one stated, and held near it."""
    import numpy as np

    best = max(groups, key=lambda group: float(group.evidence.max()))
    which = int(best.evidence.argmax())
    taken = np.append(best.columns[which], -1)
    fitted = np.append(best.amplitudes[which], -1.0)
    left = float(fitted @ course.sums[np.ix_(taken, taken)] @ fitted)
    return (TRUSTED + left) / (TRUSTED + course.count)


def _search(course: Course, sums: "Array") -> list[Group]:
    """Hypotheses without a change, then the best of them with one more, and so on."""
    import numpy as np

    shape, changes = course.shape, course.shape.changes
    columns, prior = _unchanged(shape), np.log(shape.weights)
    means = np.array([shape.start.mean, *(amplitude.mean for amplitude in shape.amplitudes)])
    sds = np.array([shape.start.sd, *(amplitude.sd for amplitude in shape.amplitudes)])
    moments = min(int((course.last_s or 0.0) / changes.every_s), changes.sought)
    knots = course.settled_columns + np.arange(moments)
    groups = [_solve(sums, columns, means, sds, prior)]
    for step in range(changes.at_most if moments else 0):
        group = groups[-1]
        evidence = group.evidence[:, None] + _gain(sums, group, knots, changes.size_k)
        if step:  # in order of time, so that no combination comes twice
            evidence[knots <= group.columns[:, -1:]] = -math.inf
        kept = np.argsort(-evidence, axis=None, kind="stable")[:BEAM]
        kept = kept[np.isfinite(evidence.ravel()[kept])]
        if len(kept) == 0:
            break
        which, knot = np.unravel_index(kept, evidence.shape)
        columns = np.column_stack([group.columns[which], knots[knot]])
        prior = prior[which] + math.log(changes.per_h * changes.every_s / 3600.0)
        means, sds = np.append(means, 0.0), np.append(sds, changes.size_k)
        groups.append(_solve(sums, columns, means, sds, prior))
    return groups


def _unchanged(shape: Shape) -> "Indices":
    """Columns of the start and of one time constant of each term, for each choice of them."""
    import numpy as np

    firsts = np.cumsum([1, *(len(term) for term in shape.terms)])[:-1]
    choices = list(itertools.product(*(range(len(term)) for term in shape.terms)))
    columns = np.zeros((len(choices), 1 + len(shape.terms)), dtype=np.int64)
    columns[:, 1:] = firsts + np.array(choices)
    return columns


def _solve(
    sums: "Array", columns: "Indices", means: "Array", sds: "Array", prior: "Array"
) -> Group:
    """Linear regression with independent normal priors, for each row of `columns`."""
    import numpy as np

    precision = sums[columns[:, :, None], columns[:, None, :]] + np.diag(1.0 / sds**2)
    pull = sums[columns, -1] + means / sds**2
    covariance = np.linalg.inv(precision).astype(np.float64)
    amplitudes = (covariance @ pull[:, :, None])[:, :, 0]
    fit = (amplitudes * pull).sum(axis=1) - ((means / sds) ** 2).sum()
    evidence = prior + 0.5 * (fit - np.linalg.slogdet(precision)[1]) - np.log(sds).sum()
    return Group(columns=columns, amplitudes=amplitudes, covariance=covariance, evidence=evidence)


def _gain(sums: "Array", group: Group, knots: "Indices", size_k: float) -> "Array":
    """What one more column would add to the evidence, by the inverse of a bordered matrix."""
    import numpy as np

    across = sums[group.columns[:, :, None], knots]
    own = sums[knots, knots] + 1.0 / size_k**2
    schur = own - (across * (group.covariance @ across)).sum(axis=1)
    pull = sums[knots, -1] - (group.amplitudes[:, None, :] @ across)[:, 0]
    gain: Array = 0.5 * (pull**2 / schur - np.log(schur * size_k**2))
    return gain
