"""Statistics of the running estimate and of typed values, against figures from outside."""

import itertools
import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from logger.conditioning.averaging import RunningEstimate
from logger.conditioning.manual import average, mean_and_squares
from logger.conditioning.motion import MOTIONS
from logger.conditioning.student import student_t
from logger.conditioning.track import Track
from logger.conditioning.uncertainty import Budget, Component, rectangular, uniform_step
from logger.quantities import Quantity
from tests.benchmarks.bench_truth import MAD_FACTOR, hampel_mean


@pytest.mark.parametrize(
    ("probability", "freedom", "factor"),
    [
        # standard tables of Student's t (also GUM table G.2 for 95 %)
        *((0.975, 1, 12.706), (0.975, 2, 4.303), (0.975, 3, 3.182), (0.975, 4, 2.776)),
        *((0.975, 5, 2.571), (0.975, 9, 2.262), (0.975, 10, 2.228), (0.975, 15, 2.131)),
        *((0.975, 16, 2.120), (0.975, 20, 2.086), (0.975, 30, 2.042)),
        (0.995, 16, 2.921),  # 2.92 in GUM H.1.6
    ],
)
def test_student_t(probability, freedom, factor):
    assert student_t(probability, freedom) == pytest.approx(factor, abs=5.1e-4)


def test_student_t_against_scipy():
    from scipy.stats import t

    for freedom in (1, 2, 3, 7, 8, 33, 100):
        for probability in (0.5, 0.6, 0.9, 0.975, 0.9995):
            expected = float(t.ppf(probability, freedom))
            assert student_t(probability, freedom) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("sides", "level", "n", "critical"),
    [
        # Grubbs 1969, in the form of NIST handbook 1.3.5.17.1; values computed from its formula
        *((2, 0.05, 4, 1.481), (2, 0.05, 5, 1.715), (2, 0.05, 7, 2.020), (2, 0.05, 10, 2.290)),
        *((2, 0.05, 20, 2.708), (2, 0.05, 100, 3.384), (2, 0.01, 15, 2.806)),
        *((1, 0.05, 5, 1.671), (1, 0.05, 8, 2.032), (1, 0.05, 20, 2.557)),
    ],
)
def test_grubbs_critical_values_follow_from_student_t(sides, level, n, critical):
    t = student_t(1.0 - level / (sides * n), n - 2)
    g = (n - 1.0) / math.sqrt(n) * math.sqrt(t * t / (n - 2.0 + t * t))
    assert g == pytest.approx(critical, abs=6e-4)


def test_typed_values_agree_with_grubbs_on_the_handbook_example():
    # NIST handbook 1.3.5.17.1: of these eight the largest is an outlier, G = 2.468765 > 2.031652
    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    mean, squares = mean_and_squares(values)
    assert (245.57 - mean) / math.sqrt(squares / 7.0) == pytest.approx(2.468765, abs=1e-6)
    assert average(values).set_aside == (245.57,)
    # Without it the test finds none, and so do we.
    assert average(values[:-1]).set_aside == ()


def nist_accuracy_set(whole):
    """NumAcc3 and NumAcc4 of NIST StRD: x.2, then x.1 and x.3 five hundred times."""
    return [whole + 0.2] + [whole + 0.1, whole + 0.3] * 500


@pytest.mark.parametrize(
    ("values", "mean", "deviation", "tolerance"),
    [
        # certified values of NIST StRD, univariate; tolerance: the last digit a float can hold
        pytest.param([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, 1e-12, id="NumAcc1"),
        pytest.param([1.2] + [1.1, 1.3] * 500, 1.2, 0.1, 1e-12, id="NumAcc2"),
        pytest.param(nist_accuracy_set(1_000_000), 1_000_000.2, 0.1, 1e-8, id="NumAcc3"),
        pytest.param(nist_accuracy_set(10_000_000), 10_000_000.2, 0.1, 1e-7, id="NumAcc4"),
    ],
)
def test_mean_and_deviation_of_nist_sets(values, mean, deviation, tolerance):
    got, squares = mean_and_squares(values)
    assert got == pytest.approx(mean, rel=1e-15)
    assert math.sqrt(squares / (len(values) - 1)) == pytest.approx(deviation, rel=tolerance)


# Sets of NIST StRD, univariate. Michelson's speed of light of 1879 as 299 + v / 1000 thousand km/s,
# Mavrovouniotis' filter transmittance as 2 + v / 10000.
MICHELSON = """
850 740 900 1070 930 850 950 980 980 880 1000 980 930 650 760 810 1000 1000 960 960
960 940 960 940 880 800 850 880 900 840 830 790 810 880 880 830 800 790 760 800
880 880 880 860 720 720 620 860 970 950 880 910 850 870 840 840 850 840 840 840
890 810 810 820 800 770 760 740 750 760 910 920 890 860 880 720 840 850 850 780
890 840 780 810 760 810 790 810 820 850 870 870 810 740 810 940 950 800 810 870
"""
MAVRO = """
18 17 18 19 18 17 15 14 15 15 17 18 18 19 19 21 20 16 14 13 13 15 15 16 15 14 13 14 15 14
15 16 15 16 19 20 20 21 22 23 24 25 27 26 26 26 27 26 25 24
"""
LEW = """
-213 -564 -35 -15 141 115 -420 -360 203 -338 -431 194 -220 -513 154 -125 -559 92 -21 -579
-52 99 -543 -175 162 -457 -346 204 -300 -474 164 -107 -572 -8 83 -541 -224 180 -420 -374
201 -236 -531 83 27 -564 -112 131 -507 -254 199 -311 -495 143 -46 -579 -90 136 -472 -338
202 -287 -477 169 -124 -568 17 48 -568 -135 162 -430 -422 172 -74 -577 -13 92 -534 -243
194 -355 -465 156 -81 -578 -64 139 -449 -384 193 -198 -538 110 -44 -577 -6 66 -552 -164
161 -460 -344 205 -281 -504 134 -28 -576 -118 156 -437 -381 200 -220 -540 83 11 -568 -160
172 -414 -408 188 -125 -572 -32 139 -492 -321 205 -262 -504 142 -83 -574 0 48 -571 -106
137 -501 -266 190 -391 -406 194 -186 -553 83 -13 -577 -49 103 -515 -280 201 300 -506 131
-45 -578 -80 138 -462 -361 201 -211 -554 32 74 -533 -235 187 -372 -442 182 -147 -566 25
68 -535 -244 194 -351 -463 174 -125 -570 15 72 -550 -190 172 -424 -385 198 -218 -536 96
"""
LOTTERY = """
162 671 933 414 788 730 817 33 536 875 670 236 473 167 877 980 316 950 456 92 517 557 956 954
104 178 794 278 147 773 437 435 502 610 582 780 689 562 964 791 28 97 848 281 858 538 660 972
671 613 867 448 738 966 139 636 847 659 754 243 122 455 195 968 793 59 730 361 574 522 97 762
431 158 429 414 22 629 788 999 187 215 810 782 47 34 108 986 25 644 829 630 315 567 919 331
207 412 242 607 668 944 749 168 864 442 533 805 372 63 458 777 416 340 436 140 919 350 510 572
905 900 85 389 473 758 444 169 625 692 140 897 672 288 312 860 724 226 884 508 976 741 476 417
831 15 318 432 241 114 799 955 833 358 935 146 630 830 440 642 356 373 271 715 367 393 190 669
8 861 108 795 269 590 326 866 64 523 862 840 219 382 998 4 628 305 747 247 34 747 729 645 856
974 24 568 24 694 608 480 410 729 947 293 53 930 223 203 677 227 62 455 387 318 562 242 428 968
"""


@pytest.mark.parametrize(
    ("text", "start", "step", "mean", "deviation", "correlation"),
    [
        # certified: mean, deviation, autocorrelation at lag 1
        pytest.param(
            MICHELSON, 299.0, 1000.0, 299.8524, 0.0790105478190518, 0.535199668621283, id="Michelso"
        ),
        pytest.param(
            MAVRO, 2.0, 10_000.0, 2.001856, 0.000429123454003053, 0.937989183438248, id="Mavro"
        ),
        pytest.param(LEW, 0.0, 1.0, -177.435, 277.332168044316, -0.307304800605679, id="Lew"),
        pytest.param(
            LOTTERY, 0.0, 1.0, 518.95871559633, 291.699727470969, -0.120948622967393, id="Lottery"
        ),
    ],
)
def test_mean_deviation_and_correlation_of_nist_series(
    text, start, step, mean, deviation, correlation
):
    values = [start + int(v) / step for v in text.split()]
    got, squares = mean_and_squares(values)
    assert got == pytest.approx(mean, rel=1e-14)
    assert math.sqrt(squares / (len(values) - 1)) == pytest.approx(deviation, rel=1e-10)
    lagged = math.fsum((a - got) * (b - got) for a, b in itertools.pairwise(values))
    assert lagged / squares == pytest.approx(correlation, rel=1e-9)


def test_gum_h1_end_gauge():
    # GUM H.1, table H.1: components in nm; combined 32 nm, expanded 93 nm at 99 %
    parts = {
        "calibration of the standard": 25.0,
        "measured difference": 9.7,
        "difference of expansion coefficients": 2.9,
        "difference of temperatures": 16.6,
    }
    budget = Budget(
        components=tuple(
            Component(
                name=name, standard_uncertainty=u, systematic=False, basis=lambda _: "GUM H.1"
            )
            for name, u in parts.items()
        )
    )
    assert budget.combined == pytest.approx(32.0, abs=0.5)
    assert budget.combined * student_t(0.995, 16) == pytest.approx(93.0, abs=1.0)


def test_rectangular_distributions():
    # GUM 4.3.7: a / sqrt 3; GUM F.2.2.1: a step of 1 has a standard uncertainty of 0.29
    assert rectangular(1.5) == pytest.approx(0.866, abs=5e-4)
    assert uniform_step(1.0) == pytest.approx(0.29, abs=5e-3)


def test_student_widens_a_few_values_as_the_normal_quantile_would_not():
    # GUM G.3: with three values of known noise and no spread the factor is t(5) / 2, not 1.96 / 2
    assert average([57.0, 57.0, 57.0]).repeatability == pytest.approx(
        math.sqrt(3.0 / 5.0) / math.sqrt(3.0) * 2.571 / 2.0, rel=1e-3
    )


def test_a_first_order_step_is_followed_without_lag():
    # Newton's step response, 22 to 60 degC with 445 s: closed form 46.021, 54.857, 58.108, 59.304
    estimate = RunningEstimate()
    for at_s in range(0, 1781):
        estimate.add(float(at_s), 60.0 - 38.0 * math.exp(-at_s / 445.0))
        if at_s in {445, 890, 1335, 1780}:
            now = estimate.at(float(at_s))
            expected = {445: 46.021, 890: 54.857, 1335: 58.108, 1780: 59.304}[at_s]
            assert now.value == pytest.approx(expected, abs=0.02)
            # A mean of the last 30 s would be 15 s late: 0.5 K low at the first of them.


def test_the_filter_of_a_place_without_slope_is_the_handbooks_ewma():
    # NIST handbook 6.3.2.4: lambda 0.3 about a target of 50. A level that wanders with q beside
    # readings of noise r has the steady gain K with K^2 / (1 - K) = q / r (Muth 1960; from memory).
    share = 0.3
    walk = share**2 / (1.0 - share)
    motion = replace(MOTIONS[Quantity.TEMPERATURE], walk=walk, slope=0.0, hit_height=None)
    track = Track(motion, 50.0, 0.0, share, 0.0, 0.0, walk)
    readings = (
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
        49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
    )  # fmt: skip
    averages = (
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
        50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    )  # fmt: skip
    for reading, average_ in zip(readings, averages, strict=True):
        track.predict(1.0)
        track.weigh(reading, 1.0, None)
        track.update()
        assert track.level == pytest.approx(average_, abs=0.0051)
    assert track.var == pytest.approx(share, rel=1e-4)  # of the average: lambda r, and so it stays


def test_hampel_example_and_mad_factor():
    # The identifier that the estimate is compared with (bench_truth): 1 / Phi^-1(3/4), and three
    # scaled median absolute deviations (Davies & Gather 1993; from memory). By hand: the median of
    # the window is 50.2, the deviations' is 0.2, so that 3 * 1.4826 * 0.2 = 0.89 K are kept.
    assert pytest.approx(1.482602218505602, rel=1e-14) == MAD_FACTOR
    assert pytest.approx(1.0 / statistics.NormalDist().inv_cdf(0.75)) == MAD_FACTOR
    window = np.array([[50.0, 50.2, 50.4, 50.1, 91.0, 49.35, 51.05]])
    assert hampel_mean(window)[0] == pytest.approx(
        statistics.fmean([50.0, 50.2, 50.4, 50.1, 49.35, 51.05])
    )
    window[0, 5] = 49.30  # 0.90 below
    assert hampel_mean(window)[0] == pytest.approx(
        statistics.fmean([50.0, 50.2, 50.4, 50.1, 51.05])
    )


def test_noise_is_that_of_the_textbook_estimator():
    # Normal readings of standard deviation 1 about a place that rests: what is learned is 1
    normal = statistics.NormalDist(50.0, 1.0)
    estimate = RunningEstimate()
    for at_s, value in enumerate(normal.samples(2000, seed=11)):
        estimate.add(float(at_s), value)
    assert estimate.noise == pytest.approx(1.0, rel=0.15)  # 90 readings count: 8 % (chi-squared)
