"""[pure] What the check candle tells of bench and probes, as JSON and in lines."""

from collections.abc import Iterator
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.decision.check_candle import BASELINE, BenchCheck, CheckChart
from logger.decision.reproducibility import Reproducibility
from logger.messages import rounded
from logger.timestamps import rfc3339
from logger.words import Words


class CheckPointMessage(TypedDict):
    """One burn of the check candle, as one place showed it."""

    burn: str
    at: str
    rise: Annotated[float, Doc("its peak above the room, K")]
    average: Annotated[float | None, Doc("weighted; null in the first burns, which set the target")]
    lower: float | None
    upper: float | None


class CheckChartMessage(TypedDict):
    """The chart of one place (NIST/SEMATECH handbook, 6.3.2.4)."""

    station: str
    channel: str
    target: float
    out: Annotated[bool, Doc("its latest average has left the limits")]
    still_to_burn: Annotated[int, Doc("burns until the chart says something")]
    points: list[CheckPointMessage]


class ReproducibilityMessage(TypedDict):
    """How much one recipe differs on this bench; standard uncertainties, K."""

    between_stations: float
    within_station: float
    stations: list[str]
    burns: int


class BenchCheckMessage(TypedDict):
    """Whether bench, probe or room has drifted."""

    found: list[str]
    charts: list[CheckChartMessage]
    reproducibility: Annotated[ReproducibilityMessage | None, Doc("null while not known")]


def bench_check_message(check: BenchCheck) -> BenchCheckMessage:
    """All of it."""
    return {
        "found": list(check.found),
        "charts": [_chart(one) for one in check.charts],
        "reproducibility": _reproducibility(check.reproducibility),
    }


def _chart(one: CheckChart) -> CheckChartMessage:
    first = len(one.peaks) - len(one.points)
    points: list[CheckPointMessage] = []
    for number, peak in enumerate(one.peaks):
        point = one.points[number - first] if number >= first else None
        points.append(
            {
                "burn": peak.burn,
                "at": rfc3339(peak.at_s, digits=0),
                "rise": rounded(peak.rise_k),
                "average": None if point is None else rounded(point.average),
                "lower": None if point is None else rounded(point.lower),
                "upper": None if point is None else rounded(point.upper),
            }
        )
    return {
        "station": one.station,
        "channel": one.channel,
        "target": rounded(one.target_k),
        "out": one.out,
        "still_to_burn": one.still_to_burn,
        "points": points,
    }


def _reproducibility(known: Reproducibility | None) -> ReproducibilityMessage | None:
    if known is None:
        return None
    return {
        "between_stations": rounded(known.between_k),
        "within_station": rounded(known.within_k),
        "stations": list(known.stations),
        "burns": known.burns,
    }


def bench_check_lines(check: BenchCheck, words: Words) -> Iterator[str]:
    """What has drifted first, then each chart, then how well stations agree."""
    if not check.charts:
        yield (
            "no burn of a check candle is known: keep one recipe for it, mark its trial "
            "(wickbench trial change NAME --check-candle yes), and burn it now and then on each "
            "station"
        )
        return
    for line in check.found:
        yield f"DRIFT: {line}"
    if not check.found and any(chart.points for chart in check.charts):
        yield "nothing has drifted, as far as the check candle tells"
    for chart in check.charts:
        name = f"{chart.channel} of {chart.station}"
        if not chart.points:
            yield f"{name}: {chart.still_to_burn} more burns ({BASELINE} only say where it lies)"
            continue
        last = chart.points[-1]
        yield (
            f"{name}: {words.difference(last.average)} above the room, between "
            f"{words.difference(last.lower)} and {words.difference(last.upper)} expected"
            f"{' (OUT)' if chart.out else ''}"
        )
    known = check.reproducibility
    if known is None:
        yield (
            "how much stations differ is not known: it takes burns of the check candle on two "
            "stations, and some repeated"
        )
    else:
        yield (
            f"one recipe differs by {words.difference(known.between_k)} from station to station "
            f"and {words.difference(known.within_k)} from burn to burn (standard deviations, "
            f"{known.burns} burns on {', '.join(known.stations)})"
        )
