"""What a channel is, what was typed of it, and where it is going."""

from typing import Annotated, Literal

from typing_extensions import Doc, TypedDict

from logger.burn.entries import ManualReading
from logger.burn.forecast import Forecast
from logger.conditioning import manual
from logger.messages.text import rounded
from logger.quantities import Channel, Estimate, Quality
from logger.timestamps import rfc3339


class EstimateMessage(TypedDict):
    """What a channel is now, with its uncertainty."""

    kind: Literal["estimate"]
    time: str
    channel: str
    value: float | None
    unit: str
    standard_uncertainty: float | None
    repeatability: float | None
    used: int
    rejected: int
    quality: Quality
    accuracy_assumed: Annotated[
        bool,
        Doc(
            "the accuracy in it is its kind's usual limit of error: none was stated, "
            "and no calibration is in force"
        ),
    ]


def estimate(value: Estimate, channel: Channel) -> EstimateMessage:
    """A channel's estimate."""
    return {
        "kind": "estimate",
        "time": rfc3339(value.at_s),
        "channel": value.channel,
        "value": rounded(value.value),
        "unit": channel.quantity.unit,
        "standard_uncertainty": rounded(value.standard_uncertainty),
        "repeatability": rounded(value.repeatability),
        "used": value.used,
        "rejected": value.rejected,
        "quality": value.quality,
        "accuracy_assumed": value.accuracy_assumed,
    }


class TypedMessage(TypedDict):
    """What values typed in one go amount to."""

    channel: Annotated[str, Doc("that this place makes up")]
    value: Annotated[float, Doc("average of the used ones, corrected")]
    unit: Annotated[str, Doc("that they were typed in")]
    standard_uncertainty: float
    used: Annotated[list[float], Doc("as typed")]
    set_aside: Annotated[list[float], Doc("as typed: far above the rest, as of a flame")]
    quality: Quality


def typed(entry: ManualReading) -> TypedMessage:
    """What values of one place typed in one go amount to, in the unit they were typed in."""
    unit, channel = entry.typed_in, entry.channel
    used, set_aside = manual.sorted_out(channel, entry.values, entry.reflected_c)
    found = manual.estimate(channel, entry.values, entry.at_s, entry.reflected_c)
    value, uncertainty = found.value or 0.0, found.standard_uncertainty or 0.0  # of >= 1 value
    return {
        "channel": channel.name,
        "value": rounded(unit.outside(value)),
        "unit": unit.name,
        "standard_uncertainty": rounded(uncertainty / unit.factor),
        "used": [rounded(unit.outside(one)) for one in used],
        "set_aside": [rounded(unit.outside(one)) for one in set_aside],
        "quality": found.quality,
    }


class ForecastMessage(TypedDict):
    """Where a place will be at the end of its burn."""

    kind: Literal["forecast"]
    time: str
    channel: str
    at: Annotated[str, Doc("of what it is said, RFC 3339")]
    value: float
    low: float
    high: float
    level: Annotated[float, Doc("how probably it lies between low and high")]
    unit: str


def forecast(value: Forecast) -> ForecastMessage:
    """Where a place will be at the end of its burn."""
    return {
        "kind": "forecast",
        "time": rfc3339(value.at_s),
        "channel": value.channel,
        "at": rfc3339(value.target_s),
        "value": rounded(value.value_c),
        "low": rounded(value.low_c),
        "high": rounded(value.high_c),
        "level": value.level,
        "unit": "degC",
    }
