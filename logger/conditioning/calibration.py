"""Calibration of a channel: what is added to its values, and how sure that is.

A correction is a straight line over the value shown, b(x) = offset + slope (x - about), as in
GUM (JCGM 100:2008) H.3. All figures are in the channel's internal unit. Calibrations carry a
date, and a burn keeps the one that was in force when it was made.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.conditioning.student import student_t
from logger.errors import DataError
from logger.quantities import ZERO_CELSIUS_K, Quantity

LARGEST_SLOPE = 0.2  # more is a swapped pair or a wrong unit, not a sensor (common practice)

ICE_C = 0.0  # melting ice in air, to 0.01 K (the triple point is 0.01 degC on the ITS-90)
ICE_UNCERTAINTY_K = 0.06  # crushed tap-water ice lies within +-0.1 K, rectangular (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A straight line to add, with the uncertainty of its two parameters."""

    offset: float  # added to a value of `about`
    slope: float = 0.0  # added per unit that a value lies above `about`
    about: float = 0.0
    offset_uncertainty: float = 0.0
    slope_uncertainty: float = 0.0
    covariance: float = 0.0  # of offset and slope
    assumed: bool = False  # nobody stated how good the reference was: the usual was taken

    def __post_init__(self) -> None:
        figures = (
            *(self.offset, self.slope, self.about, self.covariance),
            *(self.offset_uncertainty, self.slope_uncertainty),
        )
        if not all(map(math.isfinite, figures)):
            raise DataError("calibration: every figure must be finite")
        if min(self.offset_uncertainty, self.slope_uncertainty) < 0.0:
            raise DataError("calibration: an uncertainty is never negative")
        if abs(self.slope) > LARGEST_SLOPE:
            raise DataError(
                f"calibration: the correction changes by {self.slope:.3g} per unit; check units,"
                " and that no reading was entered for another reference"
            )

    @property
    def stated(self) -> bool:
        """Whether a person said how good the comparison was."""
        return self.offset_uncertainty > 0.0 and not self.assumed

    def at(self, value: float) -> float:
        """What is to be added to `value`."""
        return self.offset + self.slope * (value - self.about)

    def applied(self, value: float) -> float:
        """`value` corrected."""
        return value + self.at(value)

    def undone(self, corrected: float) -> float:
        """The inverse of `applied`; a slope is far above -1, so there always is one."""
        return (corrected - self.offset + self.slope * self.about) / (1.0 + self.slope)

    def uncertainty_at(self, value: float) -> float:
        """Standard uncertainty of the correction at `value` (GUM H.3.4, equation H.15)."""
        x = value - self.about
        variance = self.offset_uncertainty**2 + 2.0 * x * self.covariance
        # rounding may leave the sum of a perfect correlation a hair below zero
        return math.sqrt(max(0.0, variance + (x * self.slope_uncertainty) ** 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """What the channel showed, what it ought to have shown, and how sure that is."""

    shown: float
    reference: float
    standard_uncertainty: float = 0.0  # of `reference - shown`: reference and repeatability


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """How good a comparison is taken to be where nobody stated it: standard uncertainties."""

    noise: float  # of one reading, read off a display that flickers
    reference: float  # the same for all points of one comparison

    @property
    def offset(self) -> float:
        """Of an offset found from one reading."""
        return math.hypot(self.noise, self.reference)


USUAL = {
    Quantity.TEMPERATURE: Usual(noise=0.2, reference=1.0 / math.sqrt(3.0)),
    Quantity.MASS: Usual(noise=0.5, reference=1.0 / math.sqrt(3.0)),
    Quantity.HUMIDITY: Usual(noise=0.5, reference=3.0 / math.sqrt(3.0)),
}
"""Household references: a thermometer good to 1 K, a balance to 1 g, a hygrometer to 3 %, each
rectangular (from memory); the noise is our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A fitted correction, and the scatter of the points about it."""

    correction: Correction
    scatter: float  # standard deviation of the residuals
    points: int

    @property
    def freedom(self) -> int:
        """Degrees of freedom of the scatter."""
        return self.points - 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """One calibration of one channel."""

    at_s: float  # when it was made, Unix seconds UTC
    who: str
    reference: str  # against what: instrument, certificate, ice bath
    correction: Correction


def in_force(records: Sequence[Calibration], at_s: float) -> Calibration | None:
    """The latest calibration made at or before `at_s`; of one moment's, the last entered."""
    made = [record for record in records if record.at_s <= at_s]
    return max(reversed(made), key=lambda record: record.at_s) if made else None


def from_two_points(first: Point, second: Point) -> Correction:
    """The line through two points, their uncertainties independent.

    Raises `DataError` when both show the same.
    """
    half = (second.shown - first.shown) / 2.0
    if half == 0.0:
        raise DataError("calibration: both points show the same value; take them far apart")
    b1, b2 = first.reference - first.shown, second.reference - second.shown
    u1, u2 = first.standard_uncertainty, second.standard_uncertainty
    return Correction(
        offset=(b1 + b2) / 2.0,
        slope=(b2 - b1) / (2.0 * half),
        about=(first.shown + second.shown) / 2.0,
        offset_uncertainty=math.hypot(u1, u2) / 2.0,
        slope_uncertainty=math.hypot(u1, u2) / (2.0 * abs(half)),
        covariance=(u2 * u2 - u1 * u1) / (4.0 * half),
    )


def fitted(points: Sequence[Point]) -> Fit:
    """The least-squares line over three or more points (GUM H.3.2, H.3.3).

    The standard uncertainty comes from the scatter of the points, with `freedom` degrees of
    freedom; that of the reference itself, the same for all, is not in it: add it. Raises
    `DataError` for too few points, or all at one value.
    """
    n = len(points)
    if n < 3:
        raise DataError(f"calibration: {n} points; a line with its uncertainty needs 3 or more")
    mean = math.fsum(point.shown for point in points) / n
    corrections = [point.reference - point.shown for point in points]
    offset = math.fsum(corrections) / n
    x = [point.shown - mean for point in points]
    spread = math.fsum(xi * xi for xi in x)
    if not spread > 0.0:
        raise DataError("calibration: all points show the same value; take them far apart")
    slope = math.fsum(xi * (b - offset) for xi, b in zip(x, corrections, strict=True)) / spread
    residuals = [b - offset - slope * xi for xi, b in zip(x, corrections, strict=True)]
    scatter = math.sqrt(math.fsum(r * r for r in residuals) / (n - 2))
    # About the mean the two parameters do not correlate.
    line = Correction(
        offset=offset,
        slope=slope,
        about=mean,
        offset_uncertainty=scatter / math.sqrt(n),
        slope_uncertainty=scatter / math.sqrt(spread),
    )
    return Fit(correction=line, scatter=scatter, points=n)


def from_points(points: Sequence[Point], usual: Usual | None = None) -> Correction:
    """An offset from one point, the line through two, the fitted line over more.

    The points share one reference, whose uncertainty (the largest of theirs) does not average
    away: a fit gets it on top of its scatter. A scatter of few points is itself little known: it
    is widened by Student's t, so that twice the uncertainty holds 95 % (GUM G.3). `usual` is for
    points whose uncertainty nobody stated. Raises `DataError` where no line can be drawn.
    """
    if usual is not None:
        points = [replace(point, standard_uncertainty=usual.noise) for point in points]
    match points:
        case []:
            raise DataError("calibration: no point; give what was shown beside the reference")
        case [only]:
            line = Correction(
                offset=only.reference - only.shown, offset_uncertainty=only.standard_uncertainty
            )
        case [first, second]:
            line = from_two_points(first, second)
        case _:
            line = _widened(fitted(points))
            line = _plus(line, max(point.standard_uncertainty for point in points))
    return line if usual is None else replace(_plus(line, usual.reference), assumed=True)


def _widened(fit: Fit) -> Correction:
    factor, line = student_t(0.975, fit.freedom) / 2.0, fit.correction
    return replace(
        line,
        offset_uncertainty=factor * line.offset_uncertainty,
        slope_uncertainty=factor * line.slope_uncertainty,
    )


def _plus(line: Correction, uncertainty: float) -> Correction:
    """`line` with an uncertainty that is the same along it."""
    return replace(line, offset_uncertainty=math.hypot(line.offset_uncertainty, uncertainty))


def from_ice_and_boiling(
    ice_shown_c: float,
    boiling_shown_c: float,
    *,
    pressure_hpa: float,
    pressure_uncertainty_hpa: float,
    standard_uncertainty_k: float = 0.0,
) -> Correction:
    """The line through what was shown in melting ice and in boiling water.

    `pressure_hpa` is that at the bench, `standard_uncertainty_k` of reading either point.
    """
    boils_c = boiling_c(pressure_hpa)
    boils_u = boiling_uncertainty_k(pressure_hpa, pressure_uncertainty_hpa)
    return from_two_points(
        Point(
            shown=ice_shown_c,
            reference=ICE_C,
            standard_uncertainty=math.hypot(ICE_UNCERTAINTY_K, standard_uncertainty_k),
        ),
        Point(
            shown=boiling_shown_c,
            reference=boils_c,
            standard_uncertainty=math.hypot(boils_u, standard_uncertainty_k),
        ),
    )


# IAPWS-IF97, region 4, equation 31: the temperature at which water of a pressure boils.
_N = (
    *(0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5),
    *(-0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6),
    *(-0.23855557567849, 0.65017534844798e3),
)


def boiling_c(pressure_hpa: float) -> float:
    """Where water boils under the air pressure at the bench (IAPWS-IF97), 500 to 1100 hPa.

    The pressure at the bench: weather reports give it reduced to sea level, see
    `bench_pressure_hpa`. The probe hangs in the steam or in a rolling boil with salt-free water.
    """
    if not 500.0 <= pressure_hpa <= 1100.0:
        raise DataError(
            f"{pressure_hpa:.6g} hPa is not a pressure of the air (500 to 1100): check the unit"
        )
    beta = math.pow(pressure_hpa * 1e-4, 0.25)  # the formula's pressures are in MPa
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    e = (beta + n3) * beta + n6
    f = (n1 * beta + n4) * beta + n7
    g = (n2 * beta + n5) * beta + n8
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    kelvin = (n10 + d - math.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) / 2.0
    return kelvin - ZERO_CELSIUS_K


def boiling_uncertainty_k(pressure_hpa: float, pressure_uncertainty_hpa: float) -> float:
    """Standard uncertainty of `boiling_c` from that of the pressure: 0.028 K per hPa."""
    step_hpa = 0.1
    rise_k = boiling_c(pressure_hpa) - boiling_c(pressure_hpa - step_hpa)
    return rise_k / step_hpa * pressure_uncertainty_hpa


def bench_pressure_hpa(sea_level_hpa: float, altitude_m: float) -> float:
    """Air pressure at an altitude up to 5000 m, from that which a weather report gives.

    Standard atmosphere (ISO 2533), at geopotential height, within 2 m of the usual one up to 3 km:
    within 3 hPa of the truth below 1000 m in most weather (from
    memory).
    """
    if not (850.0 <= sea_level_hpa <= 1100.0 and -500.0 <= altitude_m <= 5000.0):
        raise DataError("sea-level pressure must be 850 to 1100 hPa, altitude -500 to 5000 m")
    return sea_level_hpa * math.pow(1.0 - 2.25577e-5 * altitude_m, 5.25588)
