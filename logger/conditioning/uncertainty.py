"""What an estimate's uncertainty is made of: a short budget after the GUM (JCGM 100:2008).

Each component is a standard uncertainty in the internal unit, random or systematic. Random parts
shrink as readings accumulate and are already combined in the running estimate; systematic parts
are the same for every reading of a burn and never average away. All are taken as independent and
combined by the root of their squares (GUM 5.1.2); `expanded` is with coverage factor 2 (GUM 6.2.1).
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from logger.conditioning import infrared
from logger.conditioning.calibration import USUAL, Calibration
from logger.quantities import Channel, Kind, Position, Quantity, Transducer
from logger.words import Words

COVERAGE = 2.0  # GUM 6.2.1: about 95 % where the combination is near normal
COUPLING_HALF_WIDTH_K = 1.5  # stem conduction reads low, a tape's cover high; our assumption
REFLECTED_HALF_WIDTH_K = 2.0  # walls of a room differ so much from its air (from memory)
COLD_JUNCTION_HALF_WIDTH_K = 1.0  # of a stated temperature of the terminals (our assumption)
# What instruments of a kind may usually be off by, where nobody stated or compared it (both from
# memory): a thermocouple of the common class; an infrared thermometer, the larger of the two.
USUAL_CONTACT_K = 2.5
USUAL_INFRARED_K, USUAL_INFRARED_SHARE = 2.0, 0.02  # share of the reading in degC
ASSUMED_REFLECTED_C = 22.0  # middle of a test room's 20-24 degC (common practice)
ASSUMED_HALF_WIDTH_K = 5.0  # of it, where nobody measures the room (our assumption)
THERMOCOUPLES = frozenset({Transducer.THERMOCOUPLE_K, Transducer.THERMOCOUPLE_T})


Basis = Callable[[Words], str]
"""Says in words where a figure comes from: made for a reader, not at every reading."""


class Component(NamedTuple):
    """One cause of doubt and how much it contributes to the result."""

    name: str
    standard_uncertainty: float  # in the internal unit, sensitivity included
    systematic: bool
    basis: Basis  # where the figure comes from


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The components of one estimate."""

    components: tuple[Component, ...]

    @property
    def random(self) -> float:
        """Combined standard uncertainty of the random components."""
        return _combined(part for part in self.components if not part.systematic)

    @property
    def systematic(self) -> float:
        """Combined standard uncertainty of the systematic components."""
        return _combined(part for part in self.components if part.systematic)

    @property
    def combined(self) -> float:
        """Combined standard uncertainty of all components (GUM 5.1.2)."""
        return _combined(self.components)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty, k = 2: how far early a wall rule warns because of it."""
        return COVERAGE * self.combined


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value that lies evenly within +-`half_width` (GUM 4.3.7)."""
    return half_width / math.sqrt(3.0)


def uniform_step(step: float) -> float:
    """Standard uncertainty of a display that moves in steps (GUM F.2.2.1)."""
    return step / math.sqrt(12.0)


def assumes_accuracy(channel: Channel, calibration: Calibration | None) -> bool:
    """Whether a sensor has its kind's usual limit of error for want of a better figure.

    One of the room needs no kind, and is taken as a contact thermometer. Other places lack one only
    where a person read them, or a configuration of before asked for none.
    """
    unknown = channel.kind is Kind.UNSTATED and channel.place.position is not Position.ROOM
    stated = channel.accuracy is not None or unknown
    compared = calibration is not None and calibration.correction.stated
    return channel.quantity is Quantity.TEMPERATURE and not (stated or compared)


def usual_limit_k(kind: Kind, value_c: float) -> float:
    """Half-width of the error of an instrument of which only the kind is known."""
    if kind is Kind.INFRARED:
        return max(USUAL_INFRARED_K, USUAL_INFRARED_SHARE * abs(value_c))
    return USUAL_CONTACT_K


def systematic_components(
    channel: Channel,
    *,
    value: float,
    slope: float = 0.0,
    walk: float = 0.0,
    reflected_c: float | None = None,
    calibration: Calibration | None = None,
) -> tuple[Component, ...]:
    """What a channel's settings say about errors that stay the same for every reading.

    `value` in the internal unit, `slope` in units/s and `walk` in units^2/s (the sensor lags behind
    a place that climbs, and behind its draughts), `calibration` the one in force, if any; it takes
    the place of `accuracy`, which is no longer how far the channel may be off. An accuracy
    that was neither stated nor compared is assumed where the kind is known; without it,
    repeatability and resolution stand alone.
    """
    moving = moving_components(
        channel,
        value=value,
        slope=slope,
        walk=walk,
        reflected_c=reflected_c,
        calibration=calibration,
    )
    return (*steady_components(channel, calibration), *moving)


def steady_components(channel: Channel, calibration: Calibration | None) -> tuple[Component, ...]:
    """Those of `systematic_components` that are the same whatever the channel says."""
    parts: list[Component] = []
    if not _is_infrared(channel):
        parts.extend(_display(channel, calibration, 0.0))
    if channel.transducer in THERMOCOUPLES:
        stated = channel.cold_junction_c is not None
        half_width = COLD_JUNCTION_HALF_WIDTH_K if stated else ASSUMED_HALF_WIDTH_K
        known = _within(f"terminals {'stated' if stated else 'assumed'}", half_width)
        parts.append(_systematic("cold junction", rectangular(half_width), known))
    if channel.kind is Kind.CONTACT:
        half_width = COUPLING_HALF_WIDTH_K if channel.coupling is None else channel.coupling
        touches = _within("contact with the surface", half_width)
        parts.append(_systematic("coupling", rectangular(half_width), touches))
    return tuple(parts)


def moves(channel: Channel, calibration: Calibration | None) -> bool:
    """Whether the channel has any of `moving_components`."""
    return _is_infrared(channel) or channel.lag_s > 0.0 or _is_compared(channel, calibration)


def _is_infrared(channel: Channel) -> bool:
    return channel.emissivity is not None or channel.kind is Kind.INFRARED


def moving_components(
    channel: Channel,
    *,
    value: float,
    slope: float,
    walk: float,
    reflected_c: float | None,
    calibration: Calibration | None,
) -> list[Component]:
    """The rest of `systematic_components`: what depends on the value, or how it moves."""
    parts: list[Component] = []
    if channel.lag_s > 0.0:
        # A first-order lag of tau leaves an error of variance walk * tau / 2 of a random walk.
        climbs = rectangular(abs(slope) * channel.lag_s)
        u = math.hypot(climbs, math.sqrt(0.5 * walk * channel.lag_s))
        parts.append(_systematic("lag", u, _lag(channel)))
    if _is_compared(channel, calibration):
        parts.append(_calibration(channel, value, calibration))
    if channel.emissivity is not None:
        parts.extend(_infrared(channel, channel.emissivity, value, reflected_c, calibration))
    elif _is_infrared(channel):
        parts.extend(_display(channel, calibration, value))
    return parts


def _display(
    channel: Channel, calibration: Calibration | None, value: float, per_shown: float = 1.0
) -> Iterator[Component]:
    """What is known of the instrument's display, `per_shown` of the result a unit of it."""
    if channel.resolution is not None:
        step = _stated("step of the display", channel, channel.resolution, per_shown)
        yield _systematic("resolution", per_shown * uniform_step(channel.resolution), step)
    if _is_compared(channel, calibration):
        return
    if channel.accuracy is not None:
        limit = _stated("maker's limit of error", channel, channel.accuracy, per_shown)
        yield _systematic("accuracy", per_shown * rectangular(channel.accuracy), limit)
    elif assumes_accuracy(channel, calibration):
        yield _usual_accuracy(channel, value, per_shown)


def _systematic(name: str, u: float, basis: Basis) -> Component:
    return Component(name=name, standard_uncertainty=u, systematic=True, basis=basis)


def _usual_accuracy(channel: Channel, value_c: float, per_shown: float) -> Component:
    limit_k = usual_limit_k(channel.kind, value_c)
    kind = "infrared" if channel.kind is Kind.INFRARED else "contact"
    usual = _within(f"assumed, usual limit of error of {kind}", limit_k, per_shown)
    return _systematic("accuracy", per_shown * rectangular(limit_k), usual)


def _within(what: str, half_width_k: float, per_shown: float = 1.0) -> Basis:
    return lambda words: (
        f"{what} ± {words.difference(half_width_k)}, rectangular{_times(per_shown)}"
    )


def _stated(what: str, channel: Channel, half_width: float, per_shown: float) -> Basis:
    """Of any quantity, as finely as it was stated."""
    return lambda words: (
        f"{what} {words.step(half_width, channel.quantity)}, rectangular{_times(per_shown)}"
    )


def _times(per_shown: float) -> str:
    return "" if f"{per_shown:.1f}" == "1.0" else f", times {per_shown:.1f} for its emissivity"


def _lag(channel: Channel) -> Basis:
    return lambda _: f"slope and draughts over a time constant of {channel.lag_s:g} s"


def _is_compared(channel: Channel, calibration: Calibration | None) -> bool:
    """Whether anything says how far the channel is off.

    A calibration of before comparisons had a usual uncertainty may have none: it leaves `accuracy`
    alone.
    """
    if calibration is None:
        return channel.calibration_offset != 0.0
    return calibration.correction.offset_uncertainty != 0.0


def _calibration(channel: Channel, value: float, calibration: Calibration | None) -> Component:
    if calibration is None:
        offset = "offset in the configuration, a usual reference assumed"
        return _systematic("calibration", USUAL[channel.quantity].offset, lambda _: offset)
    correction = calibration.correction
    assumed = ", a usual reference assumed" if correction.assumed else ""
    against = f"against {calibration.reference}, by {calibration.who}{assumed}"
    return _systematic("calibration", correction.uncertainty_at(value), lambda _: against)


def _infrared(
    channel: Channel,
    emissivity: float,
    value: float,
    reflected_c: float | None,
    calibration: Calibration | None,
) -> Iterator[Component]:
    mirrored_c = ASSUMED_REFLECTED_C if reflected_c is None else reflected_c
    half_width_k = ASSUMED_HALF_WIDTH_K if reflected_c is None else REFLECTED_HALF_WIDTH_K
    # Sensitivities change by 2 % a kelvin: whole kelvins let the last answer serve again.
    seen = _seen(emissivity, channel.emissivity_set, round(value), round(mirrored_c))
    # A surface that gives off little is corrected by much, and so is what the display is off by.
    yield from _display(channel, calibration, value, seen.per_apparent)
    yield _systematic(
        "emissivity",
        seen.emissivity_uncertainty_k,
        lambda _: f"{emissivity:g} ± {infrared.EMISSIVITY_HALF_WIDTH:g}, rectangular",
    )
    yield _systematic(
        "reflected",
        abs(seen.per_reflected) * rectangular(half_width_k),
        lambda words: (
            f"{'assumed' if reflected_c is None else 'taken'} as "
            f"{words.temperature(mirrored_c)} ± {words.difference(half_width_k)}, rectangular"
        ),
    )


@lru_cache(maxsize=1024)
def _seen(
    emissivity: float, emissivity_set: float, value: int, mirrored_c: int
) -> infrared.Surface:
    """What an infrared sensor makes of a surface at `value` degC."""
    shown_c = infrared.apparent_c(
        min(max(float(value), -60.0), 900.0),  # within its scale
        emissivity=emissivity,
        emissivity_set=emissivity_set,
        reflected_c=mirrored_c,
    )
    return infrared.surface(
        shown_c, emissivity=emissivity, emissivity_set=emissivity_set, reflected_c=mirrored_c
    )


def _combined(parts: Iterable[Component]) -> float:
    return math.hypot(*(part.standard_uncertainty for part in parts))
