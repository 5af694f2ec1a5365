"""Voltage or resistance of a sensor to degrees Celsius.

Thermocouples K and T after IEC 60584-1 (the reference functions of NIST Monograph 175),
platinum after IEC 60751, thermistors by their B value. Each function raises `DataError` where a
value lies outside the sensor's range, NaN included: such a value comes from a broken lead or a
wrong `transducer`, not from a candle.

Inverses are the forward function solved by Newton's method, not the published inverse
polynomials, which are off by up to 0.05 K.
"""

import math
from dataclasses import dataclass

from logger.errors import DataError
from logger.quantities import ZERO_CELSIUS_K, Transducer

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

    def signal(self, temperature_c: float) -> float:
        if not self.low_c <= temperature_c <= self.high_c:  # so for NaN
            raise DataError(f"a temperature outside the range of {self.name}: check its terminals")
        return self._with_slope(temperature_c)[0]

    def celsius(self, signal: float) -> float:
        low, high = self._with_slope(self.low_c)[0], self._with_slope(self.high_c)[0]
        _check(signal, low, high, self.unit, self.name)
        zero, slope = self._with_slope(0.0)
        t = (signal - zero) / slope
        for _ in range(_MOST_STEPS):
            value, slope_at_t = self._with_slope(t)
            step = (value - signal) / slope_at_t
            t = min(max(t - step, self.low_c), self.high_c)
            if abs(step) < _CLOSE_K:
                break
        return t

    def _with_slope(self, t: float) -> tuple[float, float]:
        """The function and its derivative."""
        if t < 0.0:
            return _polynomial(self.below, t)
        value, slope = _polynomial(self.above, t)
        if self.gauss is not None:
            a0, a1, a2 = self.gauss
            bump = a0 * math.exp(a1 * (t - a2) * (t - a2))
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


def thermocouple_c(kind: Transducer, emf_mv: float, cold_c: float) -> float:
    """Temperature of a junction that gives `emf_mv` while its terminals are at `cold_c`.

    Emf adds, temperature does not: 4.096 mV of type K with terminals at 25 degC is
    124.3 degC.
    """
    curve = _THERMOCOUPLES[kind]
    return curve.celsius(emf_mv + curve.signal(cold_c))


def pt100_c(resistance_ohm: float) -> float:
    """Temperature of a Pt100; of a lead, each ohm adds 2.6 K."""
    return _PT100.celsius(resistance_ohm)


_NTC_LOW_C, _NTC_HIGH_C = -80.0, 300.0  # what NTC thermistors are made for (common practice)
_NTC_NOMINAL_K = 25.0 + ZERO_CELSIUS_K


def ntc_c(resistance_ohm: float, *, r25_ohm: float, beta_k: float) -> float:
    """Temperature of an NTC thermistor: R = R25 exp(B (1/T - 1/298.15 K))."""

    def ohm(temperature_c: float) -> float:
        kelvin = temperature_c + ZERO_CELSIUS_K
        return r25_ohm * math.exp(beta_k * (1.0 / kelvin - 1.0 / _NTC_NOMINAL_K))

    _check(resistance_ohm, ohm(_NTC_HIGH_C), ohm(_NTC_LOW_C), "ohm", "NTC")
    per_kelvin = 1.0 / _NTC_NOMINAL_K + math.log(resistance_ohm / r25_ohm) / beta_k
    return 1.0 / per_kelvin - ZERO_CELSIUS_K


def _check(value: float, low: float, high: float, unit: str, what: str) -> None:
    if not low <= value <= high:  # so for NaN
        raise DataError(
            f"{value:.6g} {unit} is outside {what} ({low:.6g} to {high:.6g} {unit}):"
            " check lead, plug, unit and transducer"
        )


def _polynomial(ascending: tuple[float, ...], x: float) -> tuple[float, float]:
    """Horner's rule for a polynomial and its derivative."""
    value = slope = 0.0
    for c in reversed(ascending):
        slope = slope * x + value
        value = value * x + c
    return value, slope
