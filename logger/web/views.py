"""[pure] What pages and `/api/now` show, from the hub and the settings."""

from logger import messages
from logger.burn.model import BurnStatus
from logger.instruments.instrument_link import InstrumentLink
from logger.messages import Message
from logger.quantities import Channel
from logger.timestamps import rfc3339
from logger.web.bench_service import BenchService

FORECAST_AGE_S = 120.0  # they are made each minute


def now(bench: BenchService) -> Message:
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
        "forwarding": forwarding_now(bench),
    }


def forwarding_now(bench: BenchService) -> Message | None:
    """How far an engine has what is stored; None where none is configured."""
    state = bench.hub.forwarding
    return None if state is None else messages.forwarding(state)


def channels(bench: BenchService) -> list[Channel]:
    """Configured channels in their order, then the places that were read by hand."""
    return [*bench.settings.channels, *bench.hub.by_hand.values()]


def channel_now(channel: Channel, bench: BenchService) -> Message:
    """A channel: where it looks, and its latest estimate, null before the first."""
    estimate = bench.hub.estimates.get(channel.name)
    forecast = bench.hub.forecasts.get(channel.name)
    if forecast is not None and bench.now_s() - forecast.at_s > FORECAST_AGE_S:
        forecast = None  # of a burn that is out
    return {
        "name": channel.name,
        "instrument": channel.instrument,
        "station": channel.station,
        "quantity": channel.quantity.value,
        "place": channel.place.position.value,
        "height_mm": channel.place.height_mm,
        "clock": channel.place.clock,
        "words": str(channel.place),
        "estimate": None if estimate is None else messages.estimate(estimate, channel),
        "forecast": None if forecast is None else messages.forecast(forecast),
    }


def link_now(link: InstrumentLink) -> Message:
    """An instrument's health."""
    return {
        "name": link.name,
        "state": link.state.value,
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
