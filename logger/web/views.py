"""[pure] What pages and `/api/now` show, from the hub and the settings."""

from collections.abc import Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger import messages
from logger.burn.model import BurnStatus, number_in
from logger.instruments.instrument_link import InstrumentLink, LinkState
from logger.messages import (
    EstimateMessage,
    ForecastMessage,
    ForwardingMessage,
)
from logger.quantities import Channel, Position, Quantity
from logger.store.buckets import Bucket
from logger.store.disk_space import SpaceLeft
from logger.timestamps import rfc3339
from logger.web.bench_service import BenchService

FORECAST_AGE_S = 120.0  # they are made each minute


class ChannelMessage(TypedDict):
    """A channel: where it looks, its latest estimate and where it is going."""

    name: str
    instrument: str
    station: str | None
    quantity: Quantity
    place: Position
    height_mm: float | None
    clock: int | None
    words: str
    estimate: EstimateMessage | None
    forecast: ForecastMessage | None


class RefusalsMessage(TypedDict):
    """What an instrument sent and could not be read, of one kind."""

    channel: str | None
    reason: str
    count: int
    excerpt: Annotated[str, Doc("of the latest")]
    time: str


class InstrumentMessage(TypedDict):
    """An instrument's health."""

    name: str
    state: LinkState
    reason: str
    since: str
    readings: int
    dropped: int
    reconnects: int
    battery_percent: int | None
    signal_dbm: int | None
    refused: list[RefusalsMessage]


class SpaceMessage(TypedDict):
    """The room on the disk that holds the database."""

    used_bytes: Annotated[int, Doc("by the database")]
    free_bytes: Annotated[int, Doc("for it")]
    bytes_per_day: Annotated[float | None, Doc("of watching; null before the first hour")]
    days_left: Annotated[float | None, Doc("of watching at this rate")]
    text: str
    ok: Annotated[bool, Doc("false where `storage` warns ahead")]


def space_now(room: SpaceLeft | None) -> SpaceMessage | None:
    """The room on the disk; null before it was looked at."""
    if room is None:
        return None
    return {
        "used_bytes": room.space.used_bytes,
        "free_bytes": room.space.free_bytes,
        "bytes_per_day": messages.rounded(room.bytes_per_day),
        "days_left": messages.rounded(room.days_left),
        "text": room.text,
        "ok": room.lasts(),
    }


def forwarding_now(bench: BenchService) -> ForwardingMessage | None:
    """How far an engine has what is stored; None where none is configured."""
    state = bench.hub.forwarding
    return None if state is None else messages.forwarding(state)


SeriesMessage = TypedDict(
    "SeriesMessage",
    {
        "channel": str,
        "unit": str,
        "from": str,
        "to": str,
        "times_s": Annotated[list[float], Doc("the beginning of each bucket, Unix seconds")],
        "min": list[float | None],
        "max": list[float | None],
    },
)
SeriesMessage.__doc__ = (
    "A channel's estimates, lowest and highest of each bucket of time; a gap is null."
)


def series(
    channel: Channel, from_s: float, to_s: float, buckets: Sequence[Bucket]
) -> SeriesMessage:
    """A channel's estimates over a stretch of time."""
    return {
        "channel": channel.name,
        "unit": channel.quantity.unit,
        "from": rfc3339(from_s),
        "to": rfc3339(to_s),
        "times_s": [bucket.at_s for bucket in buckets],
        "min": [bucket.low for bucket in buckets],
        "max": [bucket.high for bucket in buckets],
    }


def channels(bench: BenchService) -> list[Channel]:
    """Configured channels in their order, then the places that were read by hand."""
    return [*bench.settings.channels, *bench.hub.by_hand.values()]


def channel_now(channel: Channel, bench: BenchService) -> ChannelMessage:
    """A channel: where it looks, and its latest estimate, null before the first."""
    estimate = bench.hub.estimates.get(channel.name)
    forecast = bench.hub.forecasts.get(channel.name)
    if forecast is not None and bench.now_s() - forecast.at_s > FORECAST_AGE_S:
        forecast = None  # of a burn that is out
    return {
        "name": channel.name,
        "instrument": channel.instrument,
        "station": channel.station,
        "quantity": channel.quantity,
        "place": channel.place.position,
        "height_mm": channel.place.height_mm,
        "clock": channel.place.clock,
        "words": str(channel.place),
        "estimate": None if estimate is None else messages.estimate(estimate, channel),
        "forecast": None if forecast is None else messages.forecast(forecast),
    }


def link_now(link: InstrumentLink) -> InstrumentMessage:
    """An instrument's health."""
    return {
        "name": link.name,
        "state": link.state,
        "reason": link.reason,
        "since": rfc3339(link.since_s),
        "readings": link.readings,
        "dropped": link.dropped,
        "reconnects": link.reconnects,
        "battery_percent": link.battery_percent,
        "signal_dbm": link.signal_dbm,
        "refused": [
            {
                "channel": channel,
                "reason": reason,
                "count": refusals.count,
                "excerpt": refusals.excerpt,
                "time": rfc3339(refusals.at_s),
            }
            for (channel, reason), refusals in link.refused.items()
        ],
    }


def status_of(bench: BenchService, burn: str) -> BurnStatus | None:
    """The station whose latest burn has this number or id."""
    number = number_in(burn)
    for one in bench.hub.statuses.values():
        if one.burn is not None and (one.burn == burn or number in {one.number} - {None}):
            return one
    return None
