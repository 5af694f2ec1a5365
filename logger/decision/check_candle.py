"""The check candle: one kept recipe, burned now and then, shows whether bench or probe drifted.

The recipe does not change, so what changes is the bench: a probe, a place, the room's sensor. Each
place of each station has a chart of its peaks above the room.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.burn.evidence import LEAST_SHARE, BurnEvidence
from logger.decision.ewma import EwmaPoint, ewma
from logger.decision.reproducibility import Reproducibility, reproducibility
from logger.decision.same_room import room_of
from logger.words import Words

BASELINE = 5  # first burns of a place, which say where it lies (our choice)
LEAST_SD_K = 0.15  # of a peak: no flame repeats itself better (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckPeak:
    """What one place showed in one burn of the check candle."""

    burn: str
    at_s: float
    station: str
    channel: str
    rise_k: float  # its peak above the room


def check_peaks(evidence: BurnEvidence) -> Iterator[CheckPeak]:
    """What each place of the vessel that an instrument read showed in one burn, above its room.

    Nothing of a burn without a measured room: a warmer evening would be taken for a drift. Nothing
    of a place that is at fault or was not read to the end.
    """
    room = room_of(evidence)
    if room is None:
        return
    for seen in evidence.automatic:
        if seen.highest is None or seen.highest.value is None or seen.share < LEAST_SHARE:
            continue
        yield CheckPeak(
            burn=evidence.burn.short_id,
            at_s=evidence.burn.lit_s,
            station=evidence.burn.station,
            channel=seen.channel.name,
            rise_k=seen.highest.value - room.value,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckChart:
    """The chart of one place; no points while its first burns only say where it lies."""

    station: str
    channel: str
    peaks: tuple[CheckPeak, ...]
    target_k: float
    points: tuple[EwmaPoint, ...] = ()

    @property
    def out(self) -> bool:
        """Whether its latest point has left the limits."""
        return bool(self.points) and self.points[-1].out

    @property
    def shift_k(self) -> float:
        """How far its average has moved by now."""
        return self.points[-1].average - self.target_k if self.points else 0.0

    @property
    def still_to_burn(self) -> int:
        """Burns of the baseline that are missing."""
        return max(BASELINE + 1 - len(self.peaks), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchCheck:
    """All charts, what they tell, and how well stations agree."""

    charts: tuple[CheckChart, ...]
    found: tuple[str, ...]  # in words; empty: nothing has drifted, as far as the charts tell
    reproducibility: Reproducibility | None


def bench_check(peaks: Sequence[CheckPeak], words: Words) -> BenchCheck:
    """Of every peak of burns of the check candle, in order of time."""
    charts = tuple(_charts(peaks))
    return BenchCheck(
        charts=charts,
        found=tuple(_found([chart for chart in charts if chart.points], words)),
        reproducibility=_by_station(peaks),
    )


def _charts(peaks: Sequence[CheckPeak]) -> Iterator[CheckChart]:
    """One a place. How far burns repeat is one figure, pooled over all places' first burns."""
    places = sorted({(one.station, one.channel) for one in peaks})
    of_place = {
        place: tuple(one for one in peaks if (one.station, one.channel) == place)
        for place in places
    }
    squares, free, targets = 0.0, 0, {}
    for place, found in of_place.items():
        first = [one.rise_k for one in found[:BASELINE]]
        targets[place] = math.fsum(first) / len(first)
        squares += math.fsum((rise_k - targets[place]) ** 2 for rise_k in first)
        free += len(first) - 1
    sd_k = max(math.sqrt(squares / free) if free else 0.0, LEAST_SD_K)
    for (station, channel), found in of_place.items():
        target_k, later = targets[station, channel], [one.rise_k for one in found[BASELINE:]]
        yield CheckChart(
            station=station,
            channel=channel,
            peaks=found,
            target_k=target_k,
            points=tuple(
                ewma(later, target=target_k, sd=sd_k, target_u=sd_k / math.sqrt(BASELINE))
            ),
        )


def _by_station(peaks: Sequence[CheckPeak]) -> Reproducibility | None:
    """The hottest place of each burn stands for its station."""
    hottest: dict[str, CheckPeak] = {}
    for one in peaks:
        if one.burn not in hottest or one.rise_k > hottest[one.burn].rise_k:
            hottest[one.burn] = one
    rises_k: dict[str, list[float]] = {}
    for one in hottest.values():
        rises_k.setdefault(one.station, []).append(one.rise_k)
    return reproducibility(rises_k)


def _found(charts: Sequence[CheckChart], words: Words) -> Iterator[str]:
    """What has drifted: all stations alike, one station, or one probe."""
    out = [chart for chart in charts if chart.out]
    stations = sorted({chart.station for chart in charts})
    alike = len({chart.shift_k > 0.0 for chart in out}) == 1
    if len(stations) > 1 and len(out) == len(charts) and alike:
        yield (
            f"{_moved(_mean_shift_k(out), words)} at every place of every station: the room's "
            "sensor, the room itself, or a new lot in the check candle. Compare the room's sensor "
            "first; until then blame no wick"
        )
        return
    for station in stations:
        here = [chart for chart in charts if chart.station == station]
        drifted = [chart for chart in here if chart.out]
        together = len({chart.shift_k > 0.0 for chart in drifted}) == 1
        if len(here) > 1 and len(drifted) == len(here) and together:
            yield (
                f"{_moved(_mean_shift_k(drifted), words)} at every place of {station}, and not "
                "elsewhere: look for a draught, a neighbour or what it stands on; until then blame "
                "no wick"
            )
            continue
        for chart in drifted:
            alone = "" if len(here) > 1 else ", or the place it stands on"
            yield (
                f"{_moved(chart.shift_k, words)} at {chart.channel} of {station} alone: its probe "
                f"has drifted or is fixed otherwise{alone}. Compare it (wickbench calibrate); "
                "until then blame no wick"
            )


def _mean_shift_k(charts: Sequence[CheckChart]) -> float:
    return math.fsum(chart.shift_k for chart in charts) / len(charts)


def _moved(shift_k: float, words: Words) -> str:
    way = "hotter" if shift_k > 0.0 else "cooler"
    return f"the check candle reads {words.difference(abs(shift_k))} {way} than at first"
