"""Voltage or resistance of a sensor to degrees Celsius, and back.

Thermocouples K and T after IEC 60584-1 (the reference functions of NIST Monograph 175),
platinum after IEC 60751, thermistors by Steinhart and Hart. Each function takes a float, or a
numpy array of them, and raises `DataError` where a value lies outside the sensor's range, NaN
included: such a value comes from a broken lead or a wrong `transducer`, not from a candle.

Inverses are the forward function solved by Newton's method, not the published inverse
polynomials, which are off by up to 0.05 K.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from logger.errors import DataError
from logger.quantities import ZERO_CELSIUS_K, Transducer

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    X = TypeVar("X", float, NDArray[np.float64])
else:
    X = TypeVar("X")

# IEC 60584-1 by way of NIST SRD 60, mV over degC, ascending powers; below and above 0 degC.
_K_BELOW = (
    *(0.0, 0.394501280250e-1, 0.236223735980e-4, -0.328589067840e-6, -0.499048287770e-8),
    *(-0.675090591730e-10, -0.574103274280e-12, -0.310888728940e-14, -0.104516093650e-16),
    *(-0.198892668780e-19, -0.163226974860e-22),
)
_K_ABOVE = (
    *(-0.176004136860e-1, 0.389212049750e-1, 0.185587700320e-4, -0.994575928740e-7),
    *(0.318409457190e-9, -0.560728448890e-12, 0.560750590590e-15, -0.320207200030e-18),
    *(0.971511471520e-22, -0.121047212750e-25),
)
_K_GAUSS = (0.118597600000, -0.118343200000e-3, 126.9686)  # a0 exp(a1 (t - a2)^2), above 0 degC
_T_BELOW = (
    *(0.0, 0.387481063640e-1, 0.441944343470e-4, 0.118443231050e-6, 0.200329735540e-7),
    *(0.901380195590e-9, 0.226511565930e-10, 0.360711542050e-12, 0.384939398830e-14),
    *(0.282135219250e-16, 0.142515947790e-18, 0.487686622860e-21, 0.107955392700e-23),
    *(0.139450270620e-26, 0.797951539270e-30),
)
_T_ABOVE = (
    *(0.0, 0.387481063640e-1, 0.332922278800e-4, 0.206182434040e-6, -0.218822568460e-8),
    *(0.109968809280e-10, -0.308157587720e-13, 0.454791352900e-16, -0.275129016730e-19),
)

# IEC 60751: R = R0 (1 + A t + B t^2), below 0 degC also + C (t - 100) t^3.
_PT_A, _PT_B, _PT_C = 3.9083e-3, -5.775e-7, -4.183e-12
_PT_ABOVE = (100.0, 100.0 * _PT_A, 100.0 * _PT_B)
_PT_BELOW = (*_PT_ABOVE, -100.0 * 100.0 * _PT_C, 100.0 * _PT_C)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Curve:
    """A rising function of temperature, in two pieces that meet at 0 degC."""

    name: str
    unit: str
    below: tuple[float, ...]
    above: tuple[float, ...]
    low_c: float
    high_c: float
    gauss: tuple[float, float, float] | None = None

    def signal(self, temperature_c: X) -> X:
        _check(temperature_c, self.low_c, self.high_c, "degC", self.name)
        return self._with_slope(temperature_c)[0]

    def celsius(self, signal: X) -> X:
        low, high = self._with_slope(self.low_c)[0], self._with_slope(self.high_c)[0]
        _check(signal, low, high, self.unit, self.name)
        zero, slope = self._with_slope(0.0)
        t = (signal - zero) / slope
        for _ in range(_MOST_STEPS):
            value, slope_at_t = self._with_slope(t)
            step = (value - signal) / slope_at_t
            t = _clip(t - step, self.low_c, self.high_c)
            if _largest(step) < _CLOSE_K:
                break
        return t

    def _with_slope(self, t: X) -> tuple[X, X]:
        """The function and its derivative."""
        if isinstance(t, (float, int)):
            return self._below(t) if t < 0.0 else self._above(t)
        import numpy as np

        cold, warm = self._below(np.minimum(t, 0.0)), self._above(np.maximum(t, 0.0))
        return np.where(t < 0.0, cold[0], warm[0]), np.where(t < 0.0, cold[1], warm[1])

    def _below(self, t: X) -> tuple[X, X]:
        return _polynomial(self.below, t)

    def _above(self, t: X) -> tuple[X, X]:
        value, slope = _polynomial(self.above, t)
        if self.gauss is not None:
            a0, a1, a2 = self.gauss
            bump = a0 * _functions(t).exp(a1 * (t - a2) * (t - a2))
            value, slope = value + bump, slope + 2.0 * a1 * (t - a2) * bump
        return value, slope


_MOST_STEPS = 50  # measured: 6 at most, over all three ranges
_CLOSE_K = 1e-9  # steps shrink quadratically: what is left is rounding

# Ranges: the functions' own, but from -200 degC, below which the emf says little.
_K = _Curve(
    name="thermocouple K",
    unit="mV",
    below=_K_BELOW,
    above=_K_ABOVE,
    gauss=_K_GAUSS,
    low_c=-200.0,
    high_c=1372.0,
)
_T = _Curve(
    name="thermocouple T", unit="mV", below=_T_BELOW, above=_T_ABOVE, low_c=-200.0, high_c=400.0
)
_PT100 = _Curve(
    name="Pt100", unit="ohm", below=_PT_BELOW, above=_PT_ABOVE, low_c=-200.0, high_c=850.0
)
_THERMOCOUPLES = {Transducer.THERMOCOUPLE_K: _K, Transducer.THERMOCOUPLE_T: _T}


def thermocouple_mv(kind: Transducer, hot_c: X, cold_c: float = 0.0) -> X:
    """Emf in mV of a junction at `hot_c` whose terminals are at `cold_c`."""
    curve = _thermocouple(kind)
    return curve.signal(hot_c) - curve.signal(cold_c)


def thermocouple_c(kind: Transducer, emf_mv: X, cold_c: float) -> X:
    """Temperature of a junction that gives `emf_mv` while its terminals are at `cold_c`.

    Emf adds, temperature does not: 4.096 mV of type K with terminals at 25 degC is
    124.3 degC.
    """
    curve = _thermocouple(kind)
    return curve.celsius(emf_mv + curve.signal(cold_c))


def pt100_ohm(temperature_c: X) -> X:
    """Resistance of a Pt100."""
    return _PT100.signal(temperature_c)


def pt100_c(resistance_ohm: X) -> X:
    """Temperature of a Pt100; of a lead, each ohm adds 2.6 K."""
    return _PT100.celsius(resistance_ohm)


_NTC_LOW_C, _NTC_HIGH_C = -80.0, 300.0  # what NTC thermistors are made for (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor:
    """An NTC by Steinhart and Hart: 1/T = a + b ln R + c (ln R)^3, in kelvin and ohm.

    Raises `DataError` for coefficients that are no thermistor's: a resistance that does not
    fall, or at 25 degC is outside the 10 ohm to 10 Mohm they are sold with (common practice),
    as a slip in an exponent makes it.
    """

    a: float
    b: float
    c: float = 0.0

    def __post_init__(self) -> None:
        if not (all(map(math.isfinite, (self.a, self.b, self.c))) and self.b > 0 and self.c >= 0):
            raise DataError("NTC: Steinhart-Hart needs b > 0 and c >= 0: check the coefficients")
        try:
            ohms = [self.ohm(t) for t in (_NTC_LOW_C, 25.0, _NTC_HIGH_C)]
        except OverflowError:
            ohms = [math.inf] * 3
        if not (10.0 <= ohms[1] <= 1e7 and ohms[0] < math.inf and ohms[2] > 0.0):
            raise DataError(f"NTC: {ohms[1]:.3g} ohm at 25 degC: check the coefficients")

    @classmethod
    def from_beta(cls, *, r25_ohm: float, beta_k: float) -> "Thermistor":
        """The two-parameter form R = R25 exp(beta (1/T - 1/298.15 K)): Steinhart-Hart, c = 0."""
        if not (0.0 < r25_ohm < math.inf and 0.0 < beta_k < math.inf):
            raise DataError("NTC: R25 and beta must be above 0: check the data sheet")
        return cls(a=1.0 / (25.0 + ZERO_CELSIUS_K) - math.log(r25_ohm) / beta_k, b=1.0 / beta_k)

    def ohm(self, temperature_c: X) -> X:
        """Resistance at a temperature."""
        _check(temperature_c, _NTC_LOW_C, _NTC_HIGH_C, "degC", "NTC")
        # c x^3 + b x + (a - 1/T) = 0 has one real root x = ln R; this form of Cardano's, with
        # the hyperbolic sine, loses no digits where c is small.
        y = 1.0 / (temperature_c + ZERO_CELSIUS_K) - self.a
        of = _functions(temperature_c)
        ohm: X
        if self.c == 0.0:
            ohm = of.exp(y / self.b)
        else:
            scale = 2.0 * math.sqrt(self.b / (3.0 * self.c))
            ohm = of.exp(scale * of.sinh(of.asinh(3.0 * y / (self.b * scale)) / 3.0))
        return ohm

    def celsius(self, resistance_ohm: X) -> X:
        """Temperature at a resistance."""
        hottest_ohm, coldest_ohm = self.ohm(_NTC_HIGH_C), self.ohm(_NTC_LOW_C)
        _check(resistance_ohm, hottest_ohm, coldest_ohm, "ohm", "NTC")
        x: X = _functions(resistance_ohm).log(resistance_ohm)
        return 1.0 / (self.a + (self.b + self.c * x * x) * x) - ZERO_CELSIUS_K


# Limits of error: greater of absolute (K) and share of |t| for IEC 60584-1 (with the range they
# hold in), sum of both for IEC 60751, whose ranges depend on how the resistor is made.
_IEC_60584 = {
    (Transducer.THERMOCOUPLE_K, "1"): (1.5, 0.004, -40.0, 1000.0),
    (Transducer.THERMOCOUPLE_K, "2"): (2.5, 0.0075, -40.0, 1200.0),
    (Transducer.THERMOCOUPLE_T, "1"): (0.5, 0.004, -40.0, 350.0),
    (Transducer.THERMOCOUPLE_T, "2"): (1.0, 0.0075, -40.0, 350.0),
}
_IEC_60751 = {"AA": (0.1, 0.0017), "A": (0.15, 0.002), "B": (0.3, 0.005), "C": (0.6, 0.01)}


def limit_of_error_k(kind: Transducer, tolerance_class: str, temperature_c: float) -> float:
    """Half-width, in K, that the standard allows a sensor of this class at a temperature."""
    if kind is Transducer.PT100 and tolerance_class in _IEC_60751:
        absolute, share = _IEC_60751[tolerance_class]
        _check(temperature_c, _PT100.low_c, _PT100.high_c, "degC", f"Pt100 class {tolerance_class}")
        return absolute + share * abs(temperature_c)
    if (kind, tolerance_class) in _IEC_60584:
        absolute, share, low_c, high_c = _IEC_60584[kind, tolerance_class]
        _check(temperature_c, low_c, high_c, "degC", f"{kind.value} class {tolerance_class}")
        return max(absolute, share * abs(temperature_c))
    raise DataError(f"no tolerance class {tolerance_class!r} for {kind.value}: state the accuracy")


def _thermocouple(kind: Transducer) -> _Curve:
    if kind not in _THERMOCOUPLES:
        raise DataError(f"{kind.value} is no thermocouple: use thermocouple-k or thermocouple-t")
    return _THERMOCOUPLES[kind]


def _check(value: Any, low: float, high: float, unit: str, what: str) -> None:
    inside = (value >= low) & (value <= high)  # False for NaN
    if inside is True or (inside is not False and inside.all()):
        return
    first = value if inside is False or inside.ndim == 0 else value[~inside][0]
    raise DataError(
        f"{first:.6g} {unit} is outside {what} ({low:.6g} to {high:.6g} {unit}):"
        " check lead, plug, unit and transducer"
    )


def _polynomial(ascending: tuple[float, ...], x: X) -> tuple[X, X]:
    """Horner's rule for a polynomial and its derivative."""
    value = slope = x * 0.0
    for c in reversed(ascending):
        slope = slope * x + value
        value = value * x + c
    return value, slope


def _functions(x: object) -> Any:
    """The module whose exp, log, sinh and asinh take `x`: math is ten times as fast on a float."""
    if isinstance(x, (float, int)):
        return math
    import numpy as np

    return np


def _clip(x: X, low: float, high: float) -> X:
    if isinstance(x, (float, int)):
        return min(max(x, low), high)
    return x.clip(low, high)


def _largest(x: X) -> float:
    return abs(x) if isinstance(x, (float, int)) else float(abs(x).max(initial=0.0))
