"""Closed forms: the first-order step response, and the regression behind the warm-up fit."""

import math

import numpy as np
import pytest

from logger.burn.course import Course, Disturbance, Shape
from logger.burn.forecast import BurnForecast
from logger.burn.hypotheses import weigh
from logger.quantities import Estimate, Quality


def first_order(taus_s=(900.0,), draught_k=1e-3, more=()):
    return Shape(
        terms=(taus_s,),
        weights=(1.0 / len(taus_s),) * len(taus_s),
        means_k=(0.0, 0.0),
        covariance_k2=((100.0**2, 0.0), (0.0, 100.0**2)),
        disturbances=(Disturbance(sd_k=draught_k, tau_s=150.0), *more),
        inexact=0.0,
    )


@pytest.mark.parametrize(
    ("times_tau", "share"),
    # A first-order step response after 1, 2, 3, 5 time constants (any textbook of control)
    [(1, 0.632), (2, 0.865), (3, 0.950), (5, 0.993)],
)
def test_a_body_after_newton_is_foretold_from_its_first_half(times_tau, share):
    course = Course(first_order())
    for t_s in np.arange(30.0, 600.0, 30.0):
        course.add(float(t_s), 25.0 + 40.0 * -math.expm1(-t_s / 900.0), 1e-3)
    posterior = weigh(course)
    reached = posterior.at(900.0 * times_tau).mean
    assert (reached - 25.0) / 40.0 == pytest.approx(share, abs=6e-4)
    assert posterior.expected([900.0 * times_tau]) == pytest.approx([reached], abs=1e-6)


def test_of_several_time_constants_the_true_one_is_found():
    course = Course(first_order(taus_s=(450.0, 900.0, 1800.0), draught_k=0.05))
    for t_s in np.arange(30.0, 1800.0, 30.0):
        course.add(float(t_s), 40.0 * -math.expm1(-t_s / 900.0), 0.02)
    posterior = weigh(course)
    assert posterior.columns[:, 1].tolist() == [1, 2, 3]
    assert posterior.weights[1] > 0.999


@pytest.mark.parametrize("more", [(), (Disturbance(sd_k=0.8, tau_s=900.0),)], ids=["one", "two"])
def test_the_filter_and_its_sums_are_generalised_least_squares(more):
    """Against the textbook solution with the whole covariance matrix, inverted at once."""
    rng = np.random.default_rng(11)
    t_s = np.cumsum(rng.uniform(20.0, 90.0, size=40))
    values = 3.0 + 20.0 * -np.expm1(-t_s / 900.0) + rng.normal(size=40)
    own = rng.uniform(0.1, 0.4, size=40)
    shape = first_order(draught_k=0.5, more=more)
    course = Course(shape)
    for row in zip(t_s.tolist(), values.tolist(), own.tolist(), strict=True):
        course.add(*row)
    posterior = weigh(course)

    apart_s = np.abs(t_s[:, None] - t_s[None, :])

    def together(apart_s):
        """Covariance of all disturbances at two moments."""
        return sum(one.sd_k**2 * np.exp(-apart_s / one.tau_s) for one in shape.disturbances)

    noise = together(apart_s) + np.diag(own**2)
    basis = np.column_stack([np.ones(40), -np.expm1(-t_s / 900.0)])
    whitened = np.linalg.solve(noise, np.column_stack([basis, values]))
    precision = basis.T @ whitened[:, :2]
    assert course.sums[:2, :2] == pytest.approx(precision, rel=1e-9)
    prior = np.eye(2) / 100.0**2 * posterior.noise
    expected = np.linalg.solve(precision + prior, basis.T @ whitened[:, 2])
    assert posterior.amplitudes[0] == pytest.approx(expected, rel=1e-9)

    # and its prediction is that of simple kriging with a trend
    ahead_s = float(t_s[-1]) + 100.0
    toward = together(ahead_s - t_s)
    left = np.linalg.solve(noise, values - basis @ expected)
    kriged = expected @ [1.0, -math.expm1(-ahead_s / 900.0)] + toward @ left
    assert posterior.expected([ahead_s]) == pytest.approx([kriged], rel=1e-9)
    trend = np.array([1.0, -math.expm1(-ahead_s / 900.0)])
    trend = trend - basis.T @ np.linalg.solve(noise, toward)
    variance = together(0.0) - toward @ np.linalg.solve(noise, toward)
    variance += trend @ np.linalg.solve(precision + prior, trend)
    assert posterior.at(ahead_s).sd ** 2 == pytest.approx(posterior.noise * variance, rel=1e-9)


def test_evidence_is_the_density_of_the_values():
    """Two time constants' odds, against multivariate normal densities from scipy."""
    from scipy.stats import multivariate_normal

    rng = np.random.default_rng(12)
    t_s = np.arange(30.0, 930.0, 30.0)
    values = 20.0 * -np.expm1(-t_s / 700.0) + 0.5 * rng.normal(size=30)
    course = Course(first_order(taus_s=(600.0, 900.0), draught_k=0.5))
    for t, value in zip(t_s.tolist(), values.tolist(), strict=True):
        course.add(t, value, 0.2)
    posterior = weigh(course)
    apart_s = np.abs(t_s[:, None] - t_s[None, :])
    noise = posterior.noise * (0.25 * np.exp(-apart_s / 150.0) + 0.04 * np.eye(30))
    densities = []
    for tau_s in (600.0, 900.0):
        basis = np.column_stack([np.ones(30), -np.expm1(-t_s / tau_s)])
        whole = noise + 100.0**2 * basis @ basis.T
        densities.append(multivariate_normal(np.zeros(30), whole).logpdf(values))
    odds = math.log(posterior.weights[1] / posterior.weights[0])
    assert odds == pytest.approx(densities[1] - densities[0], abs=1e-4)


@pytest.mark.parametrize(
    ("fast_s", "slow_s"),
    [(220.0, 2000.0), (320.0, 2700.0), (280.0, 2300.0), (420.0, 3100.0)],
)
def test_a_warm_up_of_two_time_constants_is_found_again(fast_s, slow_s):
    """Exact values on and between the time constants that are tried, for four hours."""
    forecast = BurnForecast(0.0)
    for t_s in np.arange(30.0, 14_401.0, 30.0).tolist():
        room = Estimate(
            channel="room",
            at_s=t_s,
            value=22.0,
            standard_uncertainty=0.05,
            repeatability=0.05,
            used=30,
            rejected=0,
            quality=Quality.GOOD,
        )
        forecast.see_room(room)
        wall_c = 22.0 - 10.0 * math.expm1(-t_s / fast_s) - 20.0 * math.expm1(-t_s / slow_s)
        forecast.see_wall(
            Estimate(
                channel="wall",
                at_s=t_s,
                value=wall_c,
                standard_uncertainty=0.05,
                repeatability=0.05,
                used=30,
                rejected=0,
                quality=Quality.GOOD,
            )
        )
    fit = forecast.fit("wall")
    assert fit.rise_k == pytest.approx(30.0, abs=0.3)
    assert fit.plateau_c == pytest.approx(52.0, abs=0.3)
    assert fit.fast_k == pytest.approx(10.0, abs=1.5)
    assert fit.slow_s == pytest.approx(slow_s, rel=0.15)
    assert fit.fast_s == pytest.approx(fast_s, rel=0.3)
    assert abs(fit.start_k) < 0.7
