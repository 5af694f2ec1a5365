"""The wax of a candle against figures from outside: a certified regression, a flame's power."""

from pathlib import Path

import pytest

from logger.burn.candle_life import PARAFFIN_MJ_PER_KG, flame_power_w
from logger.burn.straight_line import straight_line


def norris():
    """(x, y) of the data set Norris of NIST StRD, out of the file that scipy's wheel carries."""
    import scipy.stats

    folder = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_linregress"
    lines = (folder / "Norris.dat").read_text("ascii").splitlines()[60:96]  # as its head says
    return [tuple(float(word) for word in reversed(line.split())) for line in lines]


def test_the_line_is_that_which_nist_certifies():
    # NIST StRD, linear regression, Norris: certified to 15 digits, copied here from the file's head
    points = norris()
    assert len(points) == 36
    line = straight_line(points)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.at(0.0) == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope_sd == pytest.approx(0.429796848199937e-3, rel=1e-10)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)


def test_points_that_fix_no_line():
    assert straight_line([]) is None
    assert straight_line([(1.0, 2.0), (1.0, 3.0)]) is None
    assert straight_line([(1.0, 2.0), (2.0, 3.0)]).residual_sd is None


@pytest.mark.parametrize(
    ("rate_g_per_h", "power_w"),
    [
        # Hamins, Bundy, Dillon, J. Fire Prot. Eng. 15(4), 2005: 0.105 g/min make 77 +- 9 W (the
        # reference was seen, its figures are from memory)
        (0.105 * 60.0, pytest.approx(77.0, abs=9.0)),
        # an encyclopaedia's paraffin candle, about 6 g/h and about 80 W (seen)
        (6.0, pytest.approx(80.0, rel=0.1)),
    ],
)
def test_the_flame_of_a_candle_has_the_published_power(rate_g_per_h, power_w):
    assert flame_power_w(rate_g_per_h) == power_w


@pytest.mark.parametrize(
    ("heat_mj_per_kg", "power_w"), [(42.0, 70.0), (43.8, 73.0), (46.0, 76.7), (38.0, 63.3)]
)
def test_six_grams_an_hour(heat_mj_per_kg, power_w):
    # by hand: 6 g/h is 1.6667 mg/s, times kJ/g
    assert flame_power_w(6.0, heat_mj_per_kg) == pytest.approx(power_w, abs=0.05)


def test_the_heat_is_that_of_liquid_alkanes_with_water_as_vapour():
    # lower heating value of n-hexadecane and n-eicosane, 43.94 and 43.85 MJ/kg (computed with the
    # package chemicals from tabulated heats of formation); wax has longer chains still
    assert pytest.approx(43.85, rel=0.005) == PARAFFIN_MJ_PER_KG
