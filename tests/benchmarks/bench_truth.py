"""The running estimate against a known truth: how far off, how sure, how soon, how often in vain.

    python tests/benchmarks/bench_truth.py [--burns 200] [--first 500000] [--bursts steady]

Truth is that of `worlds`, on its own and not taken from the simulated candle; readings at 1 Hz with
noise of 1 K and bursts of flame hits. What becomes of it in other worlds prints `bench_worlds`. The
seeds of the default are kept for final runs: give another `--first` while working on the estimate.
Ends with 1 where a figure is missed.

Ratios are of root mean square errors, to those of a 30 s mean that knows which readings are hits.
Intervals hold 95 %: of ratios and coverages by resampling whole burns, whose readings are not
independent; of counts exact, binomial or Poisson. A figure is met if it lies in the interval, or
the result is better.
"""

import argparse
import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from multiprocessing import get_context

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.stats import beta, chi2

from logger.conditioning.conditioner import Conditioner
from logger.quantities import Channel, Place, Position, Quality, Quantity, Reading
from tests.support.worlds import BURN_S, Array, Burn, Flags, World, burn

WINDOW = 30  # readings
SETTLING = 60  # readings that are not judged: the compared means need a window, a wick a moment
SHARES = (0.0, 0.15, 0.30, 0.45)
TO_REACH = 1.0
GOOD = 0.98  # share of the moments whose quality must be good
METHODS = ("plain mean", "median", "Hampel", "estimate")
MAD_FACTOR = 1.482602218505602  # 1 / the normal quantile of 3/4
COVERED = 1.959963984540054  # normal quantile of 0.975
SYSTEMATIC_K = 0.42  # with a random part of 0.27 K a total of 0.5 K
ACCURACY_K = 0.5  # half-widths of what is drawn for each burn, and stated to the channel
EMISSIVITY, EMISSIVITY_HALF_WIDTH, REFLECTED_HALF_WIDTH_K = 0.92, 0.03, 2.0


def compared(readings: Array, hits: Flags) -> dict[str, Array]:
    """Values of the last `WINDOW` readings, from the first full window on; and the informed one."""
    windows = sliding_window_view(readings, WINDOW)
    clean = ~sliding_window_view(hits, WINDOW)
    counts = clean.sum(axis=1)
    with np.errstate(invalid="ignore"):
        informed = np.where(clean, windows, 0.0).sum(axis=1) / np.where(counts > 0, counts, np.nan)
    return {
        "informed": informed,
        "plain mean": windows.mean(axis=1),
        "median": np.median(windows, axis=1),
        "Hampel": hampel_mean(windows),
    }


def hampel_mean(windows: Array) -> Array:
    """Mean of what lies within three scaled median absolute deviations of each row's median."""
    middle = np.median(windows, axis=1, keepdims=True)
    distance = np.abs(windows - middle)
    kept = distance <= 3.0 * MAD_FACTOR * np.median(distance, axis=1, keepdims=True)
    means: Array = np.where(kept, windows, 0.0).sum(axis=1) / kept.sum(axis=1)
    return means


def estimated(
    channel: Channel, readings: Array, reflected_c: Array | None = None, *, every: int = 1
) -> Array:
    """Value, repeatability, standard uncertainty, whether good: at every nth reading, as rows."""
    conditioner, rows = Conditioner(channel), []
    for i, value in enumerate(readings.tolist()):
        mirrored = None if reflected_c is None else float(reflected_c[i])
        reading = Reading(channel=channel.name, value=value, at_s=float(i))
        conditioner.add(reading, reflected_c=mirrored)
        if i % every == 0:
            now = conditioner.estimate(float(i))
            good = now.quality is Quality.GOOD
            rows.append((now.value, now.repeatability, now.standard_uncertainty, good))
    return np.array(rows, dtype=float).T


def wall(**known: float) -> Channel:
    """A channel on the glass, with what is stated of its sensor."""
    return Channel(
        name="wall",
        instrument="truth",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.WALL, height_mm=60.0, clock=3),
        **known,  # type: ignore[arg-type]  # every field given here is a number
    )


# An infrared sensor, written again here: Planck's law summed over 8-14 um, looked up in a table.
_CELSIUS = np.arange(-40.0, 400.0, 0.05)
_UM = np.linspace(8.0, 14.0, 241)
_RADIANCE = (1.0 / (_UM**5 * np.expm1(14_387.768775 / (_UM * (_CELSIUS[:, None] + 273.15))))).sum(
    axis=1
)


def shown_by_infrared(surface_c: Array, emissivity: float, reflected_c: Array) -> Array:
    """What an instrument set to emissivity 1 shows."""
    arriving = emissivity * np.interp(surface_c, _CELSIUS, _RADIANCE) + (
        1.0 - emissivity
    ) * np.interp(reflected_c, _CELSIUS, _RADIANCE)
    return np.interp(arriving, _RADIANCE, _CELSIUS)


@dataclass
class Outcome:
    """One burn at one share of hits."""

    squares: dict[str, float]
    covered: float
    good: float
    delay_s: float | None  # None: no crossing of a minute; inf: not found
    false_alarms: int
    hours: float
    total_covered: float


def judged(case: tuple[int, float, bool, int]) -> Outcome:
    """Everything that one burn says."""
    seed, share, steady, duration_s = case
    one = burn(seed, World(hits=share, steady=steady), duration_s=duration_s)
    value, repeatability, _, good = estimated(wall(), one.readings)
    others = compared(one.readings, one.hits)
    first = WINDOW - 1 + SETTLING
    truth = one.truth[first:]
    informed = others["informed"][SETTLING:]
    known = np.isfinite(informed)
    errors = {name: values[SETTLING:] - truth for name, values in others.items()}
    errors["estimate"] = value[first:] - truth
    draw = np.random.default_rng([seed, 3, round(100 * share)])
    return Outcome(
        squares={name: float(np.mean(error[known] ** 2)) for name, error in errors.items()},
        covered=float(np.mean(np.abs(errors["estimate"]) <= COVERED * repeatability[first:])),
        good=float(np.mean(good[first:])),
        delay_s=detection_delay_s(one.truth, value + 2.0 * repeatability, draw),
        false_alarms=false_alarms(one.truth, value, repeatability, draw),
        hours=len(one.truth) / 3600.0,
        total_covered=total_coverage(one, draw),
    )


def detection_delay_s(truth: Array, upper: Array, draw: np.random.Generator) -> float | None:
    """From the truth's crossing of a limit, which it then stays above for a minute, to `upper`'s.

    The limit is drawn between 60 and 95 % of the burn's whole rise.
    """
    low, high = float(truth[SETTLING]), float(truth.max())
    limit = low + draw.uniform(0.6, 0.95) * (high - low)
    stays = sliding_window_view(truth > limit, 61).all(axis=1)
    begins = np.flatnonzero(stays[1:] & ~stays[:-1]) + 1
    if len(begins) == 0:
        return None
    found = np.flatnonzero(upper[begins[0] :] > limit)
    return float(found[0]) if len(found) else math.inf


def false_alarms(
    truth: Array, value: Array, repeatability: Array, draw: np.random.Generator
) -> int:
    """Times that a limit 3 K above the true peak is passed; a minute below ends one.

    The sensor is off by what is drawn from its accuracy; the alarm knows of it in its uncertainty.
    """
    half_width_k = SYSTEMATIC_K * math.sqrt(3.0)
    off_k = draw.uniform(-half_width_k, half_width_k)
    upper = value + off_k + 2.0 * np.hypot(repeatability, SYSTEMATIC_K)
    over = np.flatnonzero(upper[SETTLING:] > truth.max() + 3.0)
    return 0 if len(over) == 0 else 1 + int(np.sum(np.diff(over) > 60))


def total_coverage(one: Burn, draw: np.random.Generator) -> float:
    """Share of the burn that the total 95 % interval holds, all errors drawn as they are stated."""
    emissivity = EMISSIVITY + draw.uniform(-EMISSIVITY_HALF_WIDTH, EMISSIVITY_HALF_WIDTH)
    mirrored_c = one.room + draw.uniform(-REFLECTED_HALF_WIDTH_K, REFLECTED_HALF_WIDTH_K)
    off_k = draw.uniform(-ACCURACY_K, ACCURACY_K)
    shown = shown_by_infrared(one.truth, emissivity, mirrored_c) + off_k
    readings = shown + (one.readings - one.truth)
    channel = wall(emissivity=EMISSIVITY, accuracy=ACCURACY_K)
    value, _, uncertainty, _ = estimated(channel, readings, one.room, every=10)
    inside = np.abs(value - one.truth[::10]) <= COVERED * uncertainty
    return float(np.mean(inside[SETTLING // 10 :]))


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    name: str
    value: float
    low: float
    high: float
    bar: str = ""
    met: bool = True

    def __str__(self) -> str:
        verdict = "" if not self.bar else "met" if self.met else "MISSED"
        interval = f"[{self.low:.3f}, {self.high:.3f}]"
        return f"{self.name:<44}{self.value:>9.3f}  {interval:<20}{self.bar:<16}{verdict}"


@dataclass
class Result:
    """All burns of one run, by share of hits."""

    outcomes: dict[float, list[Outcome]] = field(default_factory=dict)

    def figures(self, widen: float = 1.0) -> list[Figure]:
        """The table; bars are `widen` times as far off where few burns were run."""
        lines: list[Figure] = []
        for share, burns in self.outcomes.items():
            lines += _ratios(share, burns, TO_REACH)
            lines.append(
                _coverage(f"{share:.0%} hits: random 95 % interval", burns, "covered", 0.02 * widen)
            )
            lines.append(_good(share, burns))
        every = [outcome for burns in self.outcomes.values() for outcome in burns]
        lines.append(_coverage("total 95 % interval", every, "total_covered", 0.03 * widen))
        few = [o for share, burns in self.outcomes.items() if share <= 0.3 for o in burns]
        return lines + _detection(few, "hits <= 30 %") + [_false(few, "hits <= 30 %", widen)]


def _ratios(share: float, burns: Sequence[Outcome], bar: float) -> list[Figure]:
    informed = np.array([outcome.squares["informed"] for outcome in burns])
    lines = []
    for method in METHODS:
        squares = np.array([outcome.squares[method] for outcome in burns])
        value = math.sqrt(squares.mean() / informed.mean())
        drawn = _resampled(len(burns))
        ratios = np.sqrt(squares[drawn].mean(axis=1) / informed[drawn].mean(axis=1))
        low, high = np.quantile(ratios, (0.025, 0.975))
        ours = method == "estimate"
        text = f"<= {bar:.2f}" if ours else ""
        name = f"{share:.0%} hits: {method}, error ratio"
        lines.append(Figure(name, value, float(low), float(high), text, not ours or low <= bar))
    return lines


def _good(share: float, burns: Sequence[Outcome]) -> Figure:
    shares = np.array([outcome.good for outcome in burns])
    low, high = np.quantile(shares[_resampled(len(burns))].mean(axis=1), (0.025, 0.975))
    name = f"{share:.0%} hits: share good"
    return Figure(name, float(shares.mean()), low, high, f">= {GOOD:.2f}", bool(high >= GOOD))


def _coverage(name: str, burns: Sequence[Outcome], what: str, reach: float) -> Figure:
    shares = np.array([getattr(outcome, what) for outcome in burns])
    low, high = np.quantile(shares[_resampled(len(burns))].mean(axis=1), (0.025, 0.975))
    least, most = 0.95 - reach, 0.95 + reach
    met = low <= most and high >= least
    return Figure(name, float(shares.mean()), low, high, f"{least:.2f}..{most:.2f}", bool(met))


def _detection(burns: Sequence[Outcome], name: str) -> list[Figure]:
    delays = np.array([outcome.delay_s for outcome in burns if outcome.delay_s is not None])
    found = np.isfinite(delays)
    n, k = len(delays), int(found.sum())
    low = float(beta.ppf(0.025, k, n - k + 1)) if k else 0.0
    high = float(beta.ppf(0.975, k + 1, n - k)) if k < n else 1.0
    reached = np.sort(delays[found])
    lower, upper = (int(i) for i in (0.5 * k - 0.98 * math.sqrt(k), 0.5 * k + 0.98 * math.sqrt(k)))
    middle, worst = float(np.median(reached)), float(reached.max())
    ends = float(reached[max(lower, 0)]), float(reached[min(upper, k - 1)])
    return [
        Figure(f"{name}: crossings found", k / n, low, high, "all", k == n),
        Figure(f"{name}: delay, median s", middle, *ends, "<= 20", ends[0] <= 20.0),
        Figure(f"{name}: delay, worst s", worst, worst, worst, "<= 60", worst <= 60.0),
    ]


def _false(burns: Sequence[Outcome], name: str, widen: float) -> Figure:
    count = sum(outcome.false_alarms for outcome in burns)
    hundreds = sum(outcome.hours for outcome in burns) / 100.0
    low = float(chi2.ppf(0.025, 2 * count)) / 2.0 if count else 0.0
    high = float(chi2.ppf(0.975, 2 * count + 2)) / 2.0
    label = f"{name}: false wall-limit per 100 h"
    met = low / hundreds <= widen
    return Figure(label, count / hundreds, low / hundreds, high / hundreds, f"<= {widen:g}", met)


def _resampled(n: int) -> NDArray[np.int64]:
    return np.random.default_rng(0).integers(0, n, size=(1000, n))


def run(
    burns: int, first: int, *, steady: bool = False, duration_s: int = BURN_S, jobs: int = 2
) -> Result:
    """`burns` burns at each share of hits, with seeds from `first` on."""
    result = Result()
    with get_context("fork").Pool(jobs) as pool:
        for share in SHARES:
            cases = [(seed, share, steady, duration_s) for seed in range(first, first + burns)]
            result.outcomes[share] = pool.map(judged, cases, chunksize=1)
    return result


def main() -> int:
    """Run and print; 1 where a figure is missed."""
    parser = argparse.ArgumentParser(description="The running estimate against a known truth.")
    parser.add_argument("--burns", type=int, default=200)
    parser.add_argument("--first", type=int, default=500_000, help="first seed")
    parser.add_argument("--bursts", choices=("scattered", "steady"), default="scattered")
    asked = parser.parse_args()
    result = run(asked.burns, asked.first, steady=asked.bursts == "steady")
    figures = result.figures()
    head = f"{asked.burns} burns of 4 h a share, seeds from {asked.first}, {asked.bursts} bursts"
    sys.stdout.write("\n".join([head, *map(str, figures), ""]))
    return 0 if all(figure.met for figure in figures) else 1


if __name__ == "__main__":
    sys.exit(main())
