"""How a quantity of a burning candle moves: what is believed of a channel before any reading."""

from dataclasses import dataclass

from logger.quantities import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """What the filter expects of a quantity, and of the sensor that reads it."""

    walk: float  # variance the level gains a second by draughts, unit^2/s
    slope: float  # standard deviation of the slope, unit/s
    slope_memory_s: float  # after which the slope has forgotten itself
    climb: float  # a sudden change of slope that must be believed, unit/s
    noise: float  # first guess at a reading's standard deviation
    start: float  # standard deviation of a fresh start's level
    start_slope: float  # and of its slope: a candle is often lit just then
    coarsest_step: float  # of a display, until a step was seen
    possible: tuple[float, float]  # what is outside is no value of this quantity
    hit_height: float | None  # how far above the place a flame hit reads, mean; None: no hits


MOTIONS = {
    # Draughts of 0.5 K that last 150 s gain 2 * 0.5^2 / 150 K^2/s. Walls gain 1-4 K/min while they
    # warm (time constants of 445 s, soda-lime glass of 3 mm alone, and 2100 s, with its wax:
    # computed from handbook figures); a leaning flame heats glass by 0.3 to 1 K/s (computed: 2 to
    # 6 kW/m^2 on 3 mm of soda-lime glass). Noise of 1 K and hits of up to 100 K: common practice.
    Quantity.TEMPERATURE: Motion(
        walk=2.0 * 0.5**2 / 150.0,
        slope=0.02,
        slope_memory_s=400.0,
        climb=1.0,
        noise=1.0,
        start=2.0,
        start_slope=0.07,
        coarsest_step=1.0,
        possible=(-30.0, 200.0),  # no place of a candle on a table is colder or hotter
        hit_height=50.0,
    ),
    # A container candle loses 3-8 g/h a wick (common practice); draughts push a balance about.
    Quantity.MASS: Motion(
        walk=2.0 * 0.02**2 / 150.0,
        slope=0.003,
        slope_memory_s=3600.0,
        climb=0.0,
        noise=0.1,
        start=1.0,
        start_slope=0.003,
        coarsest_step=1.0,
        possible=(-1e6, 1e6),  # a tonne is no candle
        hit_height=None,
    ),
    Quantity.HUMIDITY: Motion(  # from memory: a room's air changes within minutes
        walk=2.0 * 1.0**2 / 150.0,
        slope=0.02,
        slope_memory_s=400.0,
        climb=0.0,
        noise=1.0,
        start=3.0,
        start_slope=0.02,
        coarsest_step=1.0,
        possible=(-5.0, 105.0),  # per cent, and a sensor's error
        hit_height=None,
    ),
}
