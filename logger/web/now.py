"""[pure] The bench as it is now, as JSON: what a program or a terminal shows of it."""

from collections.abc import Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger import messages
from logger.messages import AlarmMessage, ForwardingMessage, StatusMessage
from logger.timestamps import rfc3339
from logger.web import station, views
from logger.web.alarm_groups import alarm_groups
from logger.web.bench_service import BenchService
from logger.web.next_things import NextThing, next_of_all, next_thing
from logger.web.views import ChannelMessage, InstrumentMessage, SpaceMessage


class NextMessage(TypedDict):
    """What is to be done at one station."""

    station: str
    at: Annotated[str | None, Doc("when; null: now, or nothing is to be done")]
    now: Annotated[bool, Doc("whether somebody is needed at this moment")]
    text: str


class NowMessage(TypedDict):
    """The bench as it is now."""

    time: str
    bench: str
    show: dict[str, str]
    stations: list[StatusMessage]
    next: Annotated[NextMessage | None, Doc("of the whole bench; null: nothing lies ahead")]
    next_by_station: Annotated[list[NextMessage], Doc("what needs a person first comes first")]
    channels: list[ChannelMessage]
    alarms: list[AlarmMessage]
    instruments: list[InstrumentMessage]
    storage: Annotated[SpaceMessage | None, Doc("null before it was looked at")]
    forwarding: Annotated[ForwardingMessage | None, Doc("null where no engine is configured")]


def now(bench: BenchService) -> NowMessage:
    """Everything a page shows, as JSON."""
    hub, settings = bench.hub, bench.settings
    first, ahead = _next(bench)
    return {
        "time": rfc3339(bench.now_s()),
        "bench": settings.bench.name,
        "show": dict(settings.bench.show),
        "stations": [messages.burn_status(status) for status in hub.statuses.values()],
        "next": None if first is None else _message(first),
        "next_by_station": [_message(one) for one in ahead],
        "channels": [views.channel_now(channel, bench) for channel in views.channels(bench)],
        "alarms": [messages.alarm_state(alarm) for alarm in hub.alarms.values() if alarm.active],
        "instruments": [views.link_now(link) for link in bench.links],
        "storage": views.space_now(bench.disk_space.now),
        "forwarding": views.forwarding_now(bench),
    }


def _next(bench: BenchService) -> tuple[NextThing | None, Sequence[NextThing]]:
    alarms, now_s = alarm_groups(bench), bench.now_s()
    found = [
        next_thing(station.station_view(bench, one, now_s), alarms)
        for one in station.statuses(bench)
    ]
    return next_of_all(found, alarms), sorted(found, key=lambda one: one.order)


def _message(thing: NextThing) -> NextMessage:
    return {
        "station": thing.station,
        "at": None if thing.at_s is None else rfc3339(thing.at_s),
        "now": thing.now,
        "text": thing.words,
    }
