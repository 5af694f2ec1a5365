"""The instruments: how each is doing, and the page on which its probes are told apart."""

import asyncio
import logging
from collections.abc import Sequence
from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.burn.entries import Calibrated
from logger.burn.model import BurnPhase
from logger.conditioning.calibration import Calibration, in_force
from logger.errors import WickbenchError
from logger.instruments.instrument_link import InstrumentLink
from logger.quantities import Channel, Rule
from logger.store.queries import known_calibrations
from logger.web import station
from logger.web.alarm_groups import alarm_groups
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.pages import SMALL, page
from logger.web.place_views import PlaceView, place_view
from logger.web.probe_views import ProbeView, probe_view
from logger.web.work import aside

log = logging.getLogger(__name__)

OF_SENSORS = (Rule.SILENT, Rule.SENSOR_FAULT)
PATIENCE_S = 1.0  # for the calibrations on the disk: the page opens without (our choice)
COMPARE_EVERY_S = 365 * 86_400.0  # a probe is compared once a year (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelHealth:
    """One channel of an instrument."""

    channel: Channel
    place: PlaceView
    probe: ProbeView
    faults: tuple[str, ...]  # alarms that stand about it
    compared_s: float | None  # None: never, or the disk did not say
    due: bool  # to be compared with a better thermometer

    @property
    def version(self) -> str:
        """Changes with anything that is shown."""
        said = f"{self.place.value} {self.place.expanded} {self.place.said} {self.probe.noise}"
        return f"{said} {self.faults} {self.compared_s}"


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentHealth:
    """One instrument with its channels."""

    link: InstrumentLink
    driver: str
    channels: tuple[ChannelHealth, ...]


async def instruments_page(request: Request) -> Response:
    """GET /instruments."""
    bench = bench_of(request)
    calibrations: Sequence[Calibrated] | None = None
    try:
        reading = aside(known_calibrations, bench.data)
        calibrations = await asyncio.wait_for(reading, PATIENCE_S)
    except (WickbenchError, TimeoutError) as exc:
        log.warning("calibrations cannot be listed on a page: %s", exc or "no answer")
    return page(
        bench,
        "instruments.html",
        instruments=_health(bench, calibrations),
        calibrations_known=calibrations is not None,
        space=bench.disk_space.now,
    )


def _health(
    bench: BenchService, calibrations: Sequence[Calibrated] | None
) -> list[InstrumentHealth]:
    links = {link.name: link for link in bench.links}
    return [
        InstrumentHealth(
            link=links[one.name],
            driver=one.driver,
            channels=tuple(_channel(bench, channel, calibrations) for channel in one.channels),
        )
        for one in bench.settings.instruments
        if one.name in links
    ]


def _channel(
    bench: BenchService, channel: Channel, calibrations: Sequence[Calibrated] | None
) -> ChannelHealth:
    words, now_s = bench.settings.words, bench.now_s()
    made: list[Calibration] = []
    if calibrations is not None:
        made = [one.record for one in calibrations if one.channel == channel.name]
    latest = in_force(made, now_s)
    standing = (alarm for alarm in bench.hub.alarms.values() if alarm.stands)
    return ChannelHealth(
        channel=channel,
        place=place_view(channel, bench.hub.estimates.get(channel.name), None, words, now_s),
        probe=_probe(bench, channel),
        faults=tuple(
            alarm.finding.text
            for alarm in standing
            if alarm.finding.channel == channel.name and alarm.finding.rule in OF_SENSORS
        ),
        compared_s=None if latest is None else latest.at_s,
        due=latest is None or now_s - latest.at_s > COMPARE_EVERY_S,
    )


def _probe(bench: BenchService, channel: Channel) -> ProbeView:
    heard = [*bench.hub.heard.get(channel.name, ())]
    return probe_view(channel, heard, bench.settings.words, bench.now_s())


async def probes_page(request: Request) -> Response:
    """GET /instruments/{name}: which probe is which; drawn anew each second."""
    bench, name = bench_of(request), request.path_params["name"]
    found = next((one for one in bench.settings.instruments if one.name == name), None)
    link = next((one for one in bench.links if one.name == name), None)
    if found is None or link is None:
        raise HTTPException(404, "the bench has no instrument of that name")
    stations = {channel.station for channel in found.channels}
    lit = [
        one.station
        for one in station.statuses(bench)
        if one.phase is BurnPhase.LIT and one.station in stations
    ]
    probes = [_probe(bench, channel) for channel in found.channels]
    return page(
        bench,
        "probes.html",
        name=name,
        link=link,
        probes=probes,
        moved=[one for one in probes if one.moved],
        lit=lit,
        alarms=alarm_groups(bench),
    )


ROUTES = (
    Route("/instruments", instruments_page, middleware=[SMALL]),
    Route("/instruments/{name}", probes_page, middleware=[SMALL]),
)
