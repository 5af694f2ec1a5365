"""[pure] What a chart zooms into, as JSON: buckets of several places, and single readings."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from typing_extensions import Doc, TypedDict

Span = tuple[float, float]
"""From and to, Unix seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveSubject:
    """What a chart shows: burns, by themselves or by their trials, or all of a station."""

    burns: tuple[str, ...] = ()
    trials: tuple[str, ...] = ()
    station: str = ""


class PlaceBuckets(TypedDict):
    """Of one place, a figure for each bucket; null where nothing was measured."""

    channel: str
    min: list[float | None]
    max: list[float | None]
    expanded: Annotated[list[float | None], Doc("uncertainty, k = 2; the largest; null: not kept")]
    doubtful: Annotated[list[int], Doc("numbers of the buckets in which no estimate is good")]


class CurveSeriesMessage(TypedDict):
    """Places over the same times."""

    bucket_s: float
    times_s: Annotated[
        list[float], Doc("Unix seconds: a bucket's middle, or the moment of its one estimate")
    ]
    series: list[PlaceBuckets]


class PlaceReadings(TypedDict):
    """Single readings of a place, corrected as the estimate took them."""

    channel: str
    times_s: list[float]
    values: Annotated[list[float | None], Doc("null: no value that a sensor can have sent")]
    rejected: Annotated[list[int], Doc("numbers of those that were rejected when they came")]


class SingleReadingsMessage(TypedDict):
    """Single readings of some places."""

    places: list[PlaceReadings]


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleReading:
    """A reading as the running estimate saw it."""

    at_s: float
    value: float  # NaN where it cannot be one
    used: bool


def single_readings(found: Mapping[str, Sequence[SingleReading]]) -> SingleReadingsMessage:
    """Readings by channel."""
    return {
        "places": [
            {
                "channel": name,
                "times_s": [one.at_s for one in readings],
                "values": [figure(one.value) for one in readings],
                "rejected": [number for number, one in enumerate(readings) if not one.used],
            }
            for name, readings in found.items()
        ]
    }


def figures(values: Iterable[float | None], factor: float = 1.0) -> list[float | None]:
    """As `figure`, each times `factor`."""
    return [None if value is None else figure(factor * value) for value in values]


def figure(value: float) -> float | None:
    """To a hundredth, finer than any pixel; None for NaN."""
    return None if math.isnan(value) else round(value, 2)
