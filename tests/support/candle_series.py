"""What a maker sees of simulated candles: four wicks in one shared pour, then the winner alone."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from simulators.jar import WICKS, Vessel
from simulators.room import Room
from simulators.whole_candle import WholeCandle

HOUR_S = 3600.0
STILL = Room(start_c=22.0, warming_k_per_h=0.0)
SHALLOW = Vessel(wax_level_m=0.030)  # 93 g: at 6 g/h three burns down to the neck of the tab
SHALLOWEST = Vessel(wax_level_m=0.021)  # 58 g: two burns
COOLING_S = 2 * HOUR_S  # the glass is back in the room by then, to within a kelvin
SEEN_FULL_MM = 1.0  # of hang-up: no thumb sees less (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The candle at one time of being lit."""

    at_h: float
    height_mm: int  # above the outside base, of the place on the wall that is read
    wall_c: float
    pool_mm: float
    depth_mm: float
    hang_up_mm: float
    level_mm: float

    @property
    def full_pool(self) -> str:
        """As the mark's form has it."""
        return "yes" if self.hang_up_mm <= SEEN_FULL_MM else "no"

    @property
    def readings(self) -> tuple[str, str, str]:
        """Three values of a hand thermometer."""
        return tuple(f"{self.wall_c + off:.1f}" for off in (-0.2, 0.0, 0.2))  # type: ignore[return-value]

    @property
    def seen(self) -> dict[str, str]:
        """By the fields of `burn look`, lengths in the maker's millimetres."""
        return {
            "pool": f"{self.pool_mm:.0f} mm, {self.pool_mm:.0f} mm",
            "full_pool": self.full_pool,
            "pool_depth": f"{self.depth_mm:.0f} mm",
            "hang_up": f"{self.hang_up_mm:.0f} mm",
            "wax_level": f"{self.level_mm:.0f} mm",
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """One burn of a simulated candle, and its masses as a balance to 0.1 g shows them."""

    level_mm: float  # at lighting
    before_g: float
    after_g: float
    hours: float
    burned_g: float  # the simulator's own
    by_itself: bool
    looks: list[Look] = field(default_factory=list)

    @property
    def rate_g_per_h(self) -> float:
        """The simulator's own consumption."""
        return self.burned_g / self.hours


def burn(candle: WholeCandle, hours: float, looks_h: tuple[float, ...]) -> Evening:
    """Let it cool, light it, look at it, and put it out after `hours` unless it went out."""
    if candle.burned_g > 0.0:
        candle.step(COOLING_S)
    lit_s, before_g, burned_g, level_mm = (
        candle.elapsed_s, candle.mass_g, candle.burned_g, candle.level_mm,
    )  # fmt: skip
    looks = []
    candle.light()
    for at_h in (*looks_h, hours):
        while candle.lit and candle.elapsed_s - lit_s < at_h * HOUR_S:
            candle.step(60.0)
        if candle.lit and at_h in looks_h:
            looks.append(_look(candle, at_h))
    by_itself, lasted_s = not candle.lit, candle.elapsed_s - lit_s
    candle.extinguish()
    return Evening(
        level_mm=level_mm,
        before_g=round(before_g, 1),
        after_g=round(candle.mass_g, 1),
        hours=lasted_s / HOUR_S,
        burned_g=candle.burned_g - burned_g,
        by_itself=by_itself,
        looks=looks,
    )


def _look(candle: WholeCandle, at_h: float) -> Look:
    height_mm = 5 * round((candle.level_mm + 15.0) / 5.0)  # beside the flame
    pool = candle.pool
    return Look(
        at_h=at_h,
        height_mm=height_mm,
        wall_c=candle.wall_c(height_mm, 3),
        pool_mm=pool.diameter_mm,
        depth_mm=pool.depth_mm,
        hang_up_mm=pool.hang_up_mm,
        level_mm=candle.level_mm,
    )


def shared_pour(hours: float, looks_h: tuple[float, ...]) -> Iterator[tuple[str, Evening]]:
    """One candle that each wick burns once, the smallest first."""
    candle = None
    for name, wick in WICKS.items():
        if candle is None:
            candle = WholeCandle(wick, STILL, draught_share=0.0)
        else:
            candle.rewick(wick)
        yield name, burn(candle, hours, looks_h)


def to_the_end(
    wick: str, hours: float, looks_h: tuple[float, ...], seed: int, vessel: Vessel = SHALLOW
) -> Iterator[Evening]:
    """The burns of one tester until it goes out by itself; `seed` draws its draughts."""
    candle = WholeCandle(WICKS[wick], STILL, vessel, seed=seed)
    while True:
        evening = burn(candle, hours, looks_h)
        yield evening
        if evening.by_itself:
            return
