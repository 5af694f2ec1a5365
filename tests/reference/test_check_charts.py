"""EWMA chart and analysis of variance against the worked example and certified sets of NIST."""

from importlib.resources import files

import pytest

from logger.decision.ewma import ewma
from logger.decision.reproducibility import one_way_anova, reproducibility

# NIST/SEMATECH handbook of statistical methods, 6.3.2.4: target 50, s = 2.0539, weight 0.3, k = 3;
# its limits are 52.5884 and 47.4115. The averages, to two digits, are those of its table.
HANDBOOK = """
52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1
"""
AVERAGES = """
50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92
50.73 51.23 51.94 51.99
"""


def test_the_handbook_s_ewma_chart():
    points = list(ewma([float(x) for x in HANDBOOK.split()], target=50.0, sd=2.0539))
    assert [f"{point.average:.2f}" for point in points] == AVERAGES.split()
    # The handbook draws the limits for many points, which the exact ones reach.
    assert points[-1].upper == pytest.approx(52.5884, abs=1e-4)
    assert points[-1].lower == pytest.approx(47.4115, abs=1.5e-4)
    assert not any(point.out for point in points)  # "the process is in control"
    assert [point.upper for point in points] == sorted(point.upper for point in points)


def nist_set(name):
    """Groups of one of NIST StRD's ANOVA sets, and its certified values by name."""
    path = files("scipy.stats.tests.data") / "nist_anova" / f"{name}.dat"
    lines = path.read_text().splitlines()
    between, within = (line.split() for line in lines[40:47] if line.startswith(("Bet", "With")))
    groups = {}
    for line in lines[60:]:
        if line.strip():
            group, value = line.split()
            groups.setdefault(group, []).append(float(value))
    return list(groups.values()), [float(x) for x in between[-4:]], [float(x) for x in within[-3:]]


@pytest.mark.parametrize(
    ("name", "digits"),
    [
        # As scipy's wheel ships them. Of 13 leading digits alike a float keeps three behind them.
        *(("SiRstv", 1e-9), ("AtmWtAg", 1e-6)),
        *((f"SmLs0{n}", 1e-9) for n in (1, 2, 3)),
        *((f"SmLs0{n}", 1e-5) for n in (4, 5, 6)),
        *((f"SmLs0{n}", 2e-2) for n in (7, 8, 9)),
    ],
)
def test_certified_analysis_of_variance(name, digits):
    groups, between, within = nist_set(name)
    found = one_way_anova(groups)
    assert [found.free_between, found.free_within] == [between[0], within[0]]
    assert found.squares_between == pytest.approx(between[1], rel=digits)
    assert found.mean_square_between == pytest.approx(between[2], rel=digits)
    f_statistic = found.mean_square_between / found.mean_square_within
    assert f_statistic == pytest.approx(between[3], rel=digits)
    assert found.squares_within == pytest.approx(within[1], rel=digits)
    assert found.mean_square_within == pytest.approx(within[2], rel=digits)


def test_bench_reproducibility_from_a_certified_set():
    # SiRstv: five instruments, five resistances each; mean squares 0.0127865654 and 0.010831828.
    groups, _, _ = nist_set("SiRstv")
    found = reproducibility({f"station-{n}": group for n, group in enumerate(groups)})
    assert found.within_k == pytest.approx(0.104076068334656, rel=1e-9)  # certified
    between = ((0.0127865654 - 0.010831828) / 5.0) ** 0.5
    assert found.between_k == pytest.approx(between, rel=1e-7)
    assert found.difference_u_k("station-0", "station-0") == pytest.approx(2**0.5 * found.within_k)
    apart = found.difference_u_k("station-0", "station-1")
    assert apart == pytest.approx((2.0 * (found.within_k**2 + found.between_k**2)) ** 0.5)


def test_too_few_burns_say_nothing_of_the_bench():
    assert reproducibility({}) is None
    assert reproducibility({"jar-a": [20.0, 20.4, 20.2, 20.1]}) is None
    assert reproducibility({"jar-a": [20.0, 20.4], "jar-b": [20.2, 20.1]}) is None
    assert reproducibility({"jar-a": [20.0, 20.4, 20.2], "jar-b": [20.2, 20.1]}) is not None
