"""Series of trials as a maker burns them, whose every temperature is known.

Three wicks in one jar. Each wick's life is simulated once with a whole candle (`lives`). A series
then is a reduced model: every node's rise above the room is that life's, times a factor for its wax
and jar (`k`) and one for the side that the wick stands nearer to; draughts and the room are drawn.
So 300 series cost minutes instead of days. What a bench makes of it: each place is estimated with
an error and a repeatability as the running estimate itself had on simulated readings
(`tests.benchmarks.bench_truth`), and with errors of instruments within what is stated of them.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from logger.burn.entries import Observed
from logger.burn.limits import Limits, Material, WallLimits
from logger.burn.look import Look
from logger.burn.model import Burn
from logger.burn.stated import SELF_EXTINGUISHED, Ending
from logger.conditioning.uncertainty import systematic_components
from logger.quantities import (
    Averaging,
    Channel,
    Estimate,
    Kind,
    Place,
    Position,
    Quality,
    Quantity,
)
from simulators.jar import RINGS, Vessel, Wick
from simulators.room import Room
from simulators.whole_candle import WholeCandle
from tests.benchmarks.bench_truth import estimated, shown_by_infrared, wall
from tests.support.worlds import BURN_S, Array, World, burn, wander

EVERY_S = 60.0  # between estimates: the wall's own time constant is seven times as long
SIDES = (12, 3, 6, 9)
AIR_C = 22.0  # of the lives
LIMIT_C = 60.0
WICKS = {"wick-40": 4.0, "wick-55": 5.5, "wick-70": 7.0}  # g/h: too small, right, too large
VESSEL = Vessel(wax_level_m=0.045)
SHALLOW = Vessel(wax_level_m=0.030)
TAB_MM = 2.5
MARKS_S = (1800.0, 3600.0, 7200.0, 10_800.0, 14_400.0)
FULL_MM = 3.0  # of the pool's edge to the wall, that nobody tells from full
HEIGHTS_MM = (10.0, 25.0, 40.0, 55.0)
FIRST_LIT_S = 1_700_000_000.0  # in the past, so that a bench takes it in
DAY_S = 86_400.0
SETTLED_S = 600  # of a trace that is left out: a probe is read before its candle is lit

LIMITS = Limits(
    burn_length_s=14_400.0,
    burn_notice_s=900.0,
    cool_down_s=14_400.0,
    room_low_c=20.0,
    room_high_c=27.0,
    wall={Material.GLASS: WallLimits(alert_c=57.0, limit_c=LIMIT_C, own=True)},
)


@dataclass(frozen=True, kw_only=True)
class LifeBurn:
    """One burn of a whole candle with a centred wick; rises are above the room, each minute."""

    hours: float
    wall_k: Array  # (minutes, RINGS)
    base_k: Array
    level_mm: Array
    pool: Sequence[tuple[float, float, float, float]]  # at marks: s, across, depth, hang-up in mm
    before_g: float
    after_g: float
    by_itself: bool


@cache
def life(burn_g_per_h: float, vessel: Vessel = VESSEL) -> tuple[LifeBurn, ...]:
    """Burns of four hours until it goes out by itself; the last two share what is left."""
    candle = WholeCandle(
        Wick(burn_g_per_h=burn_g_per_h, tab_neck_mm=TAB_MM),
        Room(start_c=AIR_C, warming_k_per_h=0.0),
        vessel,
        draught_share=0.0,
    )
    found: list[LifeBurn] = []
    tab_g = vessel.wax_g * 1e-3 * TAB_MM / (vessel.wax_level_m - vessel.base_m)
    while not (found and found[-1].by_itself):
        left_h = (candle.wax_g - tab_g) / burn_g_per_h
        hours = 4.0 if left_h > 5.5 else 0.5 * left_h if left_h > 4.0 else 6.0
        found.append(_one_burn(candle, hours))
        candle.step(2.0 * 3600.0)  # to within a kelvin of the room
    return tuple(found)


def _one_burn(candle: WholeCandle, hours: float) -> LifeBurn:
    lit_s, before_g = candle.elapsed_s, candle.mass_g
    walls, bases, levels, pool = [], [], [], []
    candle.light()
    while candle.lit and candle.elapsed_s - lit_s < 3600.0 * hours:
        walls.append([candle.wall_c(15.0 * (ring + 0.5), 3) - AIR_C for ring in range(RINGS)])
        bases.append(candle.base_c - AIR_C)
        levels.append(candle.level_mm)
        candle.step(EVERY_S)
        if round(candle.elapsed_s - lit_s) in MARKS_S:
            now = candle.pool
            pool.append((candle.elapsed_s - lit_s, now.diameter_mm, now.depth_mm, now.hang_up_mm))
    by_itself = not candle.lit
    now = candle.pool
    pool.append((candle.elapsed_s - lit_s, now.diameter_mm, now.depth_mm, now.hang_up_mm))
    candle.extinguish()
    return LifeBurn(
        hours=(candle.elapsed_s - lit_s) / 3600.0,
        wall_k=np.array(walls),
        base_k=np.array(bases),
        level_mm=np.array(levels),
        pool=pool,
        before_g=before_g,
        after_g=candle.mass_g,
        by_itself=by_itself,
    )


@dataclass(frozen=True, kw_only=True)
class Trace:
    """What the running estimate was off by in one burn, and what it said of it, each minute."""

    error_k: Array
    repeatability_k: Array


@cache
def traces(count: int, duration_s: int = BURN_S) -> tuple[Trace, ...]:
    """Of the estimator itself, on readings of 1 Hz with noise and hits of the flame."""
    found = []
    for seed in range(count):
        world = World(hits=(0.0, 0.1, 0.2)[seed % 3], noise_k=(0.3, 0.6, 1.0)[seed // 3 % 3])
        one = burn(600_000 + seed, world, duration_s=duration_s + SETTLED_S)
        value, repeatability, _, _ = estimated(wall(), one.readings, every=int(EVERY_S))
        first = int(SETTLED_S / EVERY_S)
        error = value - one.truth[:: int(EVERY_S)]
        found.append(Trace(error_k=error[first:], repeatability_k=repeatability[first:]))
    return tuple(found)


@dataclass(frozen=True, kw_only=True)
class Probe:
    """A place, how it is configured, and what is wrong with it."""

    channel: Channel
    felt: float = 1.0  # of the rise above the room: a bead that hangs half off
    off_k: float = 0.0
    emissivity: float | None = None  # the surface's own, where an infrared sensor looks


@dataclass(frozen=True, kw_only=True)
class Series:
    """One jar and wax, three wicks, a bench."""

    seed: int
    kind: str
    k: float  # of every rise
    base: float  # of the base's rise besides: what the jar stands on
    aside: float  # how much more the side rises that the wick stands nearer to, as a share
    toward: int  # o'clock of that side
    room_c: float
    probes: tuple[Probe, ...]
    turned: Mapping[int, int] = field(default_factory=dict)  # by burn: o'clock it was turned by
    vessel: Vessel = VESSEL


@dataclass(frozen=True, kw_only=True)
class Trial:
    """The burns of one wick, as stored, and what was true."""

    wick: str
    burns: tuple[Burn, ...]
    estimates: tuple[Mapping[str, Sequence[Estimate]], ...]  # by burn
    looks: tuple[tuple[Observed, ...], ...]
    channels: tuple[Channel, ...]
    true_peak_c: float  # the hottest of all nodes, over the life
    right: bool  # by what was true: every criterion is met


def channel(
    place: Position,
    height_mm: float | None = None,
    clock: int | None = None,
    *,
    kind: Kind = Kind.CONTACT,
    **more: object,
) -> Channel:
    """A place of the bench; a probe of the wall is fastened well, and its accuracy stated."""
    name = "-".join(str(part) for part in (place, height_mm, clock) if part is not None)
    known: dict[str, object] = {"accuracy": 0.5}
    if kind is Kind.CONTACT and place is not Position.ROOM:
        known["coupling"] = 0.3
    return Channel(
        name=name.replace(".0", ""),
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=place, height_mm=height_mm, clock=clock),
        station=None if place is Position.ROOM else "jar",
        kind=kind,
        averaging=Averaging(window_s=30.0, every_s=EVERY_S),
        **(known | more),  # type: ignore[arg-type]  # fields of a channel
    )


def _side_factor(series: Series, clock: float, turned: int) -> float:
    """Of the rise on the side at `clock` of the bench, the jar turned by so many hours."""
    angle = 2.0 * math.pi * (clock - series.toward - turned) / 12.0
    return 1.0 + series.aside * math.cos(angle)


def trial_of(series: Series, wick: str, errors: Sequence[Trace], *, day: int = 0) -> Trial:
    """The life of one wick in this series; `day` sets it apart from others on one bench."""
    rng = np.random.default_rng([series.seed, list(WICKS).index(wick)])
    known = life(WICKS[wick], series.vessel)
    biases = {one.channel.name: _bias_k(one, series.seed) for one in series.probes}
    burns: list[Burn] = []
    estimates, looks = [], []
    peak_c, lit_s, out_s = -math.inf, FIRST_LIT_S + 50 * day * DAY_S, None
    for number, one in enumerate(known):
        turned = series.turned.get(number, 0)
        n = len(one.base_k)
        gusts = {side: 0.3 * wander(rng, n, EVERY_S / 150.0) for side in SIDES}
        sides = {
            side: series.k * one.wall_k * _side_factor(series, side, turned)
            + (gusts[side] * np.minimum(1.0, np.arange(n) / 10.0))[:, None]
            for side in SIDES
        }
        base_c = series.room_c + series.k * series.base * one.base_k
        peak_c = max(
            peak_c, series.room_c + max(float(s.max()) for s in sides.values()), float(base_c.max())
        )
        seen = {
            probe.channel.name: _estimated(
                probe,
                _at(probe.channel, sides, base_c, series.room_c),
                series.room_c,
                biases[probe.channel.name],
                errors[rng.integers(len(errors))],
                rng,
                lit_s,
            )
            for probe in series.probes
        }
        burned = _burn(one, wick, lit_s, out_s, number, known, series.vessel)
        for probe in series.probes:
            if probe.channel.on_vessel:
                lit = [one for one in seen[probe.channel.name] if one.at_s <= burned.out_s]
                # of the others none can be the hottest: the same as taking them all, much sooner
                for highest in (
                    max(lit, key=lambda one: one.value or 0.0),
                    max(lit, key=lambda one: one.upper or 0.0),
                ):
                    burned = burned.with_estimate(highest, probe.channel.place)
        burns.append(burned)
        estimates.append(seen)
        looks.append(tuple(_looks(one, burned, rng)))
        out_s = burned.out_s
        lit_s += DAY_S
    return Trial(
        wick=wick,
        burns=tuple(burns),
        estimates=tuple(estimates),
        looks=tuple(looks),
        channels=tuple(probe.channel for probe in series.probes),
        true_peak_c=peak_c,
        right=peak_c <= LIMIT_C and burns_well(known, series.vessel, WICKS[wick]),
    )


def burns_well(known: Sequence[LifeBurn], vessel: Vessel, rate_g_per_h: float) -> bool:
    """Whether, but for its heat, the wick is right by what the candle itself did."""
    inner_mm = 2e3 * vessel.inner_radius_m
    full = any(
        at_s <= 14_400.0 and across >= inner_mm - FULL_MM
        for one in known[:3]
        for at_s, across, _, _ in one.pool
    )
    deepest = max(depth for one in known for _, _, depth, _ in one.pool)
    left = (known[-1].after_g - vessel.glass_g) / vessel.wax_g
    return (
        full
        and deepest <= 19.0
        and known[-1].pool[-1][3] <= 3.0
        and 3.0 <= rate_g_per_h <= 8.0
        and 0.01 <= left <= 0.15
    )


def _burn(
    one: LifeBurn,
    wick: str,
    lit_s: float,
    before_s: float | None,
    number: int,
    known: Sequence[LifeBurn],
    vessel: Vessel,
) -> Burn:
    out_s = lit_s + 3600.0 * one.hours
    return Burn(
        id=f"jar-{wick}-{number}",
        station="jar",
        trial=wick,
        tester=wick,
        number=number + 1,
        lit_s=lit_s,
        out_s=out_s,
        cooled=True,
        material=Material.GLASS,
        limits=LIMITS,
        inner_diameter_mm=74.0,
        mass_before_g=round(one.before_g, 1),
        mass_after_g=round(one.after_g, 1),
        wax_g=round(known[0].before_g - vessel.glass_g, 1),
        ending=Ending(ended=SELF_EXTINGUISHED if one.by_itself else "planned"),
        rested_s=None if before_s is None else lit_s - before_s,
        wax_level_mm=round(float(one.level_mm[-1])),
    )


def _looks(one: LifeBurn, burned: Burn, rng: np.random.Generator) -> list[Observed]:
    """What a person sees at the marks, to a millimetre or so, and once it is out."""
    assert burned.out_s is not None
    found = []
    for at_s, across, depth, hang_up in one.pool:
        if at_s > burned.out_s - burned.lit_s:
            continue
        seen_mm = float(round(across + rng.normal(0.0, 0.5)))
        index = min(int(at_s / EVERY_S), len(one.level_mm) - 1)
        found.append(
            (
                at_s - 1.0,
                Look(
                    flame_mm=(float(round(rng.normal(24.0, 2.0))),),
                    mushrooming=0,
                    soot=0,
                    smoke=0,
                    pool_mm=(seen_mm, seen_mm),
                    pool_depth_mm=float(max(round(depth + rng.normal(0.0, 0.5)), 0)),
                    hang_up_mm=float(max(round(hang_up), 0)),
                    wax_level_mm=float(round(one.level_mm[index])),
                ),
            )
        )
    found.append((burned.out_s - burned.lit_s + 60.0, Look(after_smoke_s=12.0, reignited="no")))
    return [
        Observed(
            at_s=burned.lit_s + at_s,
            entered_s=burned.lit_s + at_s,
            id=f"{burned.id}-{number}",
            station="jar",
            look=look,
        )
        for number, (at_s, look) in enumerate(found)
    ]


def _at(where: Channel, sides: Mapping[int, Array], base_c: Array, room_c: float) -> Array:
    """The true temperature of a place, each minute; between nodes it is linear."""
    place = where.place
    if place.position is Position.ROOM:
        return np.full(len(base_c), room_c)
    if place.position is Position.BASE:
        return base_c
    ring = min(max((place.height_mm or 0.0) / 15.0 - 0.5, 0.0), RINGS - 1.0)
    low = min(int(ring), RINGS - 2)

    def on(side: int) -> Array:
        cells = sides[side]
        return cells[:, low] + (ring - low) * (cells[:, low + 1] - cells[:, low])

    clock = (place.clock or 12) % 12
    left, share = SIDES[clock // 3], clock % 3 / 3.0
    right = SIDES[(clock // 3 + 1) % 4]
    return room_c + (1.0 - share) * on(left) + share * on(right)


def _bias_k(probe: Probe, seed: int) -> float:
    """What it is always off by, within what is stated of it."""
    rng = np.random.default_rng([seed, sum(probe.channel.name.encode())])
    return float(
        rng.uniform(-1.0, 1.0) * (probe.channel.accuracy or 0.0)
        + rng.uniform(-1.0, 1.0) * (probe.channel.coupling or 0.0)
        + probe.off_k
    )


def _estimated(
    probe: Probe,
    true_c: Array,
    room_c: float,
    bias_k: float,
    trace: Trace,
    rng: np.random.Generator,
    lit_s: float,
) -> list[Estimate]:
    """As the bench would have it: the true course, its errors, and what is known of them."""
    n = len(true_c)
    felt_c = room_c + probe.felt * (true_c - room_c) + bias_k
    reflected_c = None
    if probe.channel.kind is Kind.INFRARED and probe.channel.emissivity is not None:
        own = probe.emissivity or probe.channel.emissivity
        shown = shown_by_infrared(felt_c, own, np.full(n, room_c))
        felt_c = _corrected(shown, probe.channel.emissivity, room_c)
        reflected_c = room_c
    start = int(rng.integers(len(trace.error_k)))
    error_k = np.take(trace.error_k, range(start, start + n), mode="wrap")
    random_k = np.take(trace.repeatability_k, range(start, start + n), mode="wrap")
    parts = systematic_components(probe.channel, value=float(felt_c.max()), reflected_c=reflected_c)
    systematic_k = math.sqrt(sum(one.standard_uncertainty**2 for one in parts))
    unstated = probe.channel.accuracy is None
    return [
        Estimate(
            channel=probe.channel.name,
            at_s=lit_s + EVERY_S * minute,
            value=float(felt_c[minute] + error_k[minute]),
            standard_uncertainty=math.hypot(float(random_k[minute]), systematic_k),
            repeatability=float(random_k[minute]),
            used=30,
            rejected=0,
            quality=Quality.GOOD,
            accuracy_assumed=unstated,
        )
        for minute in range(n)
    ]


def _corrected(shown_c: Array, emissivity: float, room_c: float) -> Array:
    """What the surface is taken for with that emissivity: `shown_by_infrared` the other way."""
    grid_c = np.arange(0.0, 200.0, 0.05)
    return np.interp(
        shown_c, shown_by_infrared(grid_c, emissivity, np.full(len(grid_c), room_c)), grid_c
    )
