"""The same room, and what counts as a difference, against packages that are not ours.

* `ht`: free convection of a vertical plate (Churchill and Chu), beside radiation after Stefan and
  Boltzmann: how a wall that a flame heats follows its room.
* `uncertainties`: the difference of two independent figures (GUM 5.1.2).
* scipy: Student's t and the normal distribution, for how often equal trials are called different.
"""

import ht
import numpy as np
import pytest
import uncertainties
from scipy import optimize, stats

from logger.decision.same_room import (
    ROOM_SHARE,
    ROOM_SHARE_HALF_WIDTH,
    ComparedFigure,
    mean_of,
)
from simulators.heat_transfer import air_at

SIGMA = 5.670374419e-8  # W/(m2 K4), CODATA 2018
GRAVITY = 9.80665
SEED = 106


def flux_w_per_m2(wall_c, room_c, height_m, emissivity):
    air = air_at(0.5 * (wall_c + room_c) + 273.15)
    rise_k = wall_c - room_c
    film_k = 0.5 * (wall_c + room_c) + 273.15
    grashof = GRAVITY * rise_k / film_k * height_m**3 / air.viscosity**2
    nusselt = ht.Nu_vertical_plate_Churchill(air.prandtl, grashof)
    radiated = emissivity * SIGMA * ((wall_c + 273.15) ** 4 - (room_c + 273.15) ** 4)
    return nusselt * air.conductivity / height_m * rise_k + radiated


@pytest.mark.parametrize("wall_c", [40.0, 50.0, 60.0])
@pytest.mark.parametrize("emissivity", [0.1, 0.93])  # bright metal, glass (handbook, from memory)
@pytest.mark.parametrize("height_m", [0.05, 0.12])
@pytest.mark.parametrize("room_c", [18.0, 27.0])
def test_a_wall_follows_its_room_by_the_share_that_is_reckoned_with(
    wall_c, emissivity, height_m, room_c
):
    """From 22 degC: what the share says, within its half-width."""
    heated = flux_w_per_m2(wall_c, 22.0, height_m, emissivity)
    there_c = optimize.brentq(
        lambda c: flux_w_per_m2(c, room_c, height_m, emissivity) - heated, room_c + 1.0, 90.0
    )
    share = (there_c - wall_c) / (room_c - 22.0)
    assert abs(share - ROOM_SHARE) <= ROOM_SHARE_HALF_WIDTH


def test_a_difference_is_as_uncertain_as_the_package_says():
    ours = ComparedFigure(value=57.4, standard_uncertainty=0.6).minus(
        ComparedFigure(value=55.1, standard_uncertainty=0.9)
    )
    theirs = uncertainties.ufloat(57.4, 0.6) - uncertainties.ufloat(55.1, 0.9)
    assert ours.value == pytest.approx(theirs.nominal_value)
    assert ours.standard_uncertainty == pytest.approx(theirs.std_dev)
    # a difference of more than k = 2 has a two-sided p under 4.55 %
    p = 2.0 * stats.norm.sf(abs(theirs.nominal_value) / theirs.std_dev)
    assert ours.clear == (p < 2.0 * stats.norm.sf(2.0))


@pytest.mark.parametrize(("candles", "scatter_k"), [(1, 0.0), (2, 2.0), (4, 2.0)])
def test_equal_trials_are_seldom_called_different(candles, scatter_k):
    """As often as k = 2 has it, and where candles scatter no oftener than Welch's test calls it."""
    draws, count, u = np.random.default_rng(SEED), 2000, 0.5
    called = welch = 0
    for _ in range(count):
        pairs = draws.normal(0.0, u, 2)[:, None] + draws.normal(0.0, scatter_k, (2, candles))
        one, other = (
            mean_of([ComparedFigure(value=v, standard_uncertainty=u) for v in found])
            for found in pairs
        )
        called += one.minus(other).clear
        if candles > 1:
            welch += stats.ttest_ind(*pairs, equal_var=False).pvalue < 0.05
    assert called / count <= 0.0595  # 4.55 %, and three sigma of so many draws
    if candles > 1:
        assert called <= welch
