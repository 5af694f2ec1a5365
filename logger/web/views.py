"""[pure] What pages and `/api/now` show, from the hub and the settings."""

from collections.abc import Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger import messages
from logger.burn.model import BurnStatus
from logger.instruments.instrument_link import InstrumentLink, LinkState
from logger.messages import AlarmMessage, EstimateMessage, ForecastMessage, StatusMessage
from logger.quantities import Channel, Position, Quantity
from logger.store.buckets import Bucket
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


class NowMessage(TypedDict):
    """The bench as it is now."""

    time: str
    bench: str
    show: dict[str, str]
    stations: list[StatusMessage]
    channels: list[ChannelMessage]
    alarms: list[AlarmMessage]
    instruments: list[InstrumentMessage]


def now(bench: BenchService) -> NowMessage:
    """Everything a page shows, as JSON."""
    hub, settings = bench.hub, bench.settings
    return {
        "time": rfc3339(bench.now_s()),
        "bench": settings.bench.name,
        "show": dict(settings.bench.show),
        "stations": [messages.burn_status(status) for status in hub.statuses.values()],
        "channels": [channel_now(channel, bench) for channel in channels(bench)],
        "alarms": [messages.alarm_state(alarm) for alarm in hub.alarms.values() if alarm.active],
        "instruments": [link_now(link) for link in bench.links],
    }


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
    """The station whose latest burn is `burn`."""
    return next((one for one in bench.hub.statuses.values() if one.burn == burn), None)
