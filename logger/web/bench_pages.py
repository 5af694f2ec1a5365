"""The page of the bench and the page of each station: what burns now, and what is to be done."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.burn.coverage import WallCoverage
from logger.quantities import Position
from logger.web import station
from logger.web.after_out import AfterOut, BurnSummary
from logger.web.ahead import cooling
from logger.web.alarm_groups import AlarmGroup, alarm_groups, alarms_over
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.entry_views import entries
from logger.web.known_records import BRIEFLY_S, PATIENCE_S, KnownRecords, ShelfReading
from logger.web.look_form import look_form
from logger.web.next_things import NextThing, next_of_all, next_thing, to_do
from logger.web.pages import SMALL, page
from logger.web.station import StationView
from logger.web.vessel import Drawing, drawing

MOST_ENTRIES = 30  # on the page of a station; that of the burn has all


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A station on the page of the bench."""

    view: StationView
    vessel: Drawing | None
    covered: WallCoverage | None
    uncovered: str
    next: NextThing


async def home(request: Request) -> Response:
    """GET /: the station's page, or all stations where there are several."""
    bench = bench_of(request)
    statuses = station.statuses(bench)
    if len(statuses) == 1:
        return await _station_page(request, statuses[0].station)
    now_s, alarms = bench.now_s(), alarm_groups(bench)
    known = await _shelf(request, BRIEFLY_S)
    panels = [
        _panel(bench, station.station_view(bench, one, now_s), alarms, known) for one in statuses
    ]
    return page(
        bench,
        "stations.html",
        known={one.station for one in statuses},
        panels=sorted(panels, key=lambda one: one.next.order),
        next=next_of_all([one.next for one in panels], alarms),
        alarms=alarms,
        over=alarms_over(bench),
    )


def _panel(
    bench: BenchService, view: StationView, alarms: Sequence[AlarmGroup], known: KnownRecords
) -> Panel:
    words = bench.settings.words
    covered = station.covered(view, words)
    return Panel(
        view=view,
        vessel=_vessel(bench, view, known),
        covered=covered if view.lit else None,
        uncovered=station.uncovered(covered, words),
        next=next_thing(view, alarms),
    )


def _vessel(bench: BenchService, view: StationView, known: KnownRecords) -> Drawing | None:
    """The vessel in section, as high as its record tells."""
    named = "" if view.burn is None else view.burn.vessel
    record = known.vessels.get(named)
    height_mm = None if record is None else record.height_mm
    return drawing(view.places, bench.settings.words.length_in, view.wax, height_mm)


async def _shelf(request: Request, patience_s: float) -> KnownRecords:
    return await cast("ShelfReading", request.app.state.shelf).records(patience_s)


async def station_page(request: Request) -> Response:
    """GET /stations/{station}."""
    return await _station_page(request, request.path_params["station"])


async def _station_page(request: Request, name: str) -> Response:
    bench = bench_of(request)
    status = bench.hub.statuses.get(name)
    if status is None:
        raise HTTPException(404, "the bench has no station of that name")
    words = bench.settings.words
    view = station.station_view(bench, status, bench.now_s())
    alarms = alarm_groups(bench, name)
    known = await _shelf(request, BRIEFLY_S if view.lit else PATIENCE_S)
    summary = BurnSummary()
    if view.burn is not None and not view.burn.lit:
        summary = await cast("AfterOut", request.app.state.after_out).summary(view.burn)
    return page(
        bench,
        "station.html",
        view=view,
        vessel=_vessel(bench, view, known),
        uncovered=station.uncovered(station.covered(view, words), words),
        at_wax=station.at_wax(view, words),
        cooling=cooling(bench, view.status, view.burn, view.places, bench.now_s()),
        alarms=alarms,
        over=alarms_over(bench, name),
        to_do=to_do(view, alarms),
        summary=summary,
        testers=known.testers,
        look_groups=look_form(
            (one.now for one in bench.entered_at(name)),
            words,
            lit=view.lit,
            now_s=bench.now_s(),
        ),
        entries=entries(bench, bench.entered_at(name), words, most=MOST_ENTRIES),
        positions=[one.value for one in Position],
    )


ROUTES = (
    Route("/", home, middleware=[SMALL]),
    Route("/stations/{station}", station_page, middleware=[SMALL]),
)
