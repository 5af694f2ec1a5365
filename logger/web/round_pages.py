"""The page of a reading round: every place of every burning candle, one after the other."""

import asyncio
import logging
from typing import cast

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.burn.model import BurnPhase
from logger.errors import WickbenchError
from logger.intake.shelf_bodies import record_of
from logger.shelf.rounds import RoundRecord, ThermometerRecord
from logger.store.queries import open_read
from logger.web import station
from logger.web.alarm_groups import alarm_groups
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.pages import page
from logger.web.round_views import station_round
from logger.web.work import aside

log = logging.getLogger(__name__)

PATIENCE_S = 1.0  # for the shelf; places that were read before need none (our choice)

Records = dict[str, tuple[RoundRecord, ThermometerRecord | None]]


async def round_page(request: Request) -> Response:
    """GET /round."""
    bench = bench_of(request)
    records: Records = {}
    try:
        records = await asyncio.wait_for(aside(_records, bench), PATIENCE_S)
    except (WickbenchError, TimeoutError) as exc:
        log.warning("a reading round without what the shelf says: %s", exc or "no answer")
    rounds = [
        station_round(bench, status, *records.get(status.station, (None, None)))
        for status in station.statuses(bench)
        if status.phase is BurnPhase.LIT
    ]
    steps = [(one, step) for one in rounds for step in one.steps]
    views = {
        one.status.station: station.station_view(bench, one.status, bench.now_s()) for one in rounds
    }
    return page(
        bench,
        "round.html",
        rounds=rounds,
        steps=steps,
        views=views,
        alarms=alarm_groups(bench),
        stations=station.statuses(bench),
    )


def _records(bench: BenchService) -> Records:
    """By station, what is to be read there and with what."""
    with open_read(bench.data) as reader:
        rounds = [record_of(one) for one in reader.shelf("round") if not one.withdrawn]
        known = [record_of(one) for one in reader.shelf("thermometer") if not one.withdrawn]
    thermometers = {one.name: cast("ThermometerRecord", one) for one in known}
    return {
        one.name: (cast("RoundRecord", one), thermometers.get(cast("RoundRecord", one).thermometer))
        for one in rounds
    }


ROUTES = (Route("/round", round_page),)
