"""What an infrared sensor shows to what the surface is.

A surface of emissivity e gives off e W(T) and reflects (1 - e) W(T_reflected); the bench's air
takes nothing away (transmission 1). An instrument set to an emissivity s below 1 shows the T
for which s W(T) + (1 - s) W(T_reflected) arrives: like most, it takes what is mirrored to be as
warm as itself, and it stands in the room (common practice). Set to 1 it is taken at its word.

W is the radiance of a black body in the 8 to 14 um of common thermometers. There glass is opaque:
it is the wall's outside that is seen, not the flame behind it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from logger.errors import DataError
from logger.quantities import ZERO_CELSIUS_K

EMISSIVITY_HALF_WIDTH = 0.03  # published values for one material differ by this much
LEAST_EMISSIVITY = 0.01  # polished metals have 0.02 and more (handbooks, from memory)
_LOW_C, _HIGH_C = -70.0, 1000.0  # scale of common thermometers (common practice); a flame hit fits


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A surface temperature, and how it moves with what it was computed from."""

    celsius: float
    per_apparent: float  # K per K shown
    per_emissivity_k: float  # K per 1 of emissivity
    per_reflected: float  # K per K of reflected temperature

    @property
    def emissivity_uncertainty_k(self) -> float:
        """Standard uncertainty from an emissivity known to +-0.03, rectangular (GUM 4.3.7)."""
        return abs(self.per_emissivity_k) * EMISSIVITY_HALF_WIDTH / math.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Emissivity of a finish at 8 to 14 um, and what to know before aiming at it."""

    emissivity: float | None  # None: no figure stands for it, measure a patch
    note: str


# Emissivities as makers of infrared thermometers publish them for 8 to 14 um, the middle of a
# range taken. A thin metal film lies anywhere between metal and glass, hence no figure.
FINISHES: Mapping[str, Finish] = {
    "bare-glass": Finish(emissivity=0.92, note="0.90 to 0.95"),
    "ceramic": Finish(emissivity=0.92, note="0.90 to 0.94"),
    "glazed-ceramic": Finish(emissivity=0.90, note="0.85 to 0.95; aim within 30 deg of square on"),
    "painted": Finish(emissivity=0.94, note="0.90 to 0.98, metallic paint less; not bare glass"),
    "matte-paint": Finish(emissivity=0.97, note="a dot of it makes a patch"),
    "metallised": Finish(emissivity=None, note="not bare glass, a metal film reflects the room"),
    "mirrored": Finish(emissivity=None, note="not bare glass, it reflects the room"),
    "bare-metal": Finish(emissivity=0.1, note="reflects the room: unusable without a patch"),
}


def is_on_scale(celsius: float) -> bool:
    """Whether an infrared thermometer can show it, and so whether it can be reflected."""
    return _LOW_C <= celsius <= _HIGH_C


def surface(
    apparent_c: float,
    *,
    emissivity: float,
    reflected_c: float,
    emissivity_set: float = 1.0,
) -> Surface:
    """Surface temperature for a reading `apparent_c` of an instrument set to `emissivity_set`.

    Raises `DataError` for emissivities outside [0.01, 1], temperatures off the scale, and a reading
    colder than the reflection alone would make it.
    """
    e, s = checked_emissivity(emissivity), checked_emissivity(emissivity_set)
    start_k = _kelvin(apparent_c)
    shown, shown_slope = radiance(start_k)
    mirrored, mirrored_slope = radiance(_kelvin(reflected_c))
    # e W(surface) + (1 - e) W(reflected) = s W(shown) + (1 - s) W(reflected)
    emitted = mirrored + (shown - mirrored) * s / e
    lowest, highest = _scale()
    if not lowest <= emitted <= highest:
        raise DataError(
            f"no surface of emissivity {e:g} shows this reading with this reflected temperature: "
            "check emissivity and reflected"
        )
    surface_k = _temperature_k(emitted, start_k)
    slope = e * radiance(surface_k)[1]
    return Surface(
        celsius=surface_k - ZERO_CELSIUS_K,
        per_apparent=s * shown_slope / slope,
        per_emissivity_k=(mirrored - emitted) / slope,
        per_reflected=(e - s) * mirrored_slope / slope,
    )


def apparent_c(
    surface_c: float,
    *,
    emissivity: float,
    reflected_c: float,
    emissivity_set: float = 1.0,
) -> float:
    """What an instrument set to `emissivity_set` shows of a surface: the inverse."""
    # The balance is the same with surface and display, emissivity and setting, exchanged.
    return surface(
        surface_c,
        emissivity=emissivity_set,
        emissivity_set=emissivity,
        reflected_c=reflected_c,
    ).celsius


def emissivity_from_patch(
    bare_c: float,
    *,
    patch_c: float,
    reflected_c: float,
) -> float:
    """Emissivity of a surface from a reading of it, `bare_c`, and of a patch beside it.

    `patch_c` is the patch's true temperature, corrected for its own emissivity. Raises
    `DataError` where the patch is within 10 K of the reflected temperature: there the surface
    looks the same whatever its emissivity (common practice).
    """
    if abs(patch_c - reflected_c) < 10.0:
        raise DataError(
            "patch and reflected temperature are too close together: warm the vessel further"
        )
    mirrored = radiance(_kelvin(reflected_c))[0]
    seen = radiance(_kelvin(bare_c))[0] - mirrored
    emissivity = seen / (radiance(_kelvin(patch_c))[0] - mirrored)
    if not 0.0 < emissivity <= 1.0:
        raise DataError(
            f"patch and surface give emissivity {emissivity:.3g}: measure both again, in turn"
        )
    return emissivity


def checked_emissivity(value: float) -> float:
    """`value` where a surface can have it. Raises DataError elsewhere."""
    if not LEAST_EMISSIVITY <= value <= 1.0:
        raise DataError(f"{value:g} is not an emissivity: write {LEAST_EMISSIVITY:g} to 1")
    return value


def _kelvin(celsius: float) -> float:
    if not is_on_scale(celsius):
        raise DataError("no infrared thermometer shows such a temperature: check figure and unit")
    return celsius + ZERO_CELSIUS_K


# Planck's law with the exact constants of the SI: 2 h c^2 in W um^4/m2/sr, h c/k in um K.
_C1 = 2.0 * 6.62607015e-34 * 299_792_458.0**2 * 1e24
_C2 = 6.62607015e-34 * 299_792_458.0 / 1.380649e-23 * 1e6

# Five Gauss-Legendre points over 8 to 14 um (nodes in closed form, Abramowitz and Stegun 25.4.30):
# within 1e-6 of the integral between -70 and 1000 degC.
_ROOT = math.sqrt(10.0 / 7.0)
_NODES = tuple(
    (11.0 + 3.0 * x, 3.0 * weight)
    for size, weight in (
        (0.0, 128.0 / 225.0),
        (math.sqrt(5.0 - 2.0 * _ROOT) / 3.0, (322.0 + 13.0 * math.sqrt(70.0)) / 900.0),
        (math.sqrt(5.0 + 2.0 * _ROOT) / 3.0, (322.0 - 13.0 * math.sqrt(70.0)) / 900.0),
    )
    for x in {size, -size}  # zero and its negative are one node
)
_TERMS = tuple((weight * _C1 / um**5, _C2 / um) for um, weight in _NODES)


def radiance(kelvin: float) -> tuple[float, float]:
    """Radiance of a black body in 8 to 14 um, W/m2/sr, and its slope over temperature."""
    radiance = slope = 0.0
    for scale, c2_per_um in _TERMS:
        u = c2_per_um / kelvin
        part = scale / math.expm1(u)
        radiance += part
        slope += part * u / -math.expm1(-u)
    return radiance, slope / kelvin


@cache
def _scale() -> tuple[float, float]:
    """Radiance at the ends of a thermometer's scale."""
    return radiance(_kelvin(_LOW_C))[0], radiance(_kelvin(_HIGH_C))[0]


def _temperature_k(wanted: float, start_k: float) -> float:
    """The temperature of that radiance: Newton's method on the logarithms.

    W goes nearly as a power of T (T^4.6 at 300 K in 8 to 14 um), a straight line in logarithms.
    """
    kelvin = start_k
    for _ in range(50):  # 8 at most are taken between the ends of the scale
        value, slope = radiance(kelvin)
        step = math.log(wanted / value) * value / (kelvin * slope)
        kelvin *= math.exp(step)
        if abs(step) < 1e-12:
            break
    return kelvin
