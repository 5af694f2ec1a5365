"""[pure] The figures of the pages in words, for scripts to put where they stand."""

import json
from collections.abc import Mapping

from typing_extensions import TypedDict

from logger.web import station
from logger.web.bench_service import BenchService
from logger.web.station import StationView

AGE_S = 5.0  # of bench time; estimates come as often


class PlaceFigures(TypedDict):
    """One place; `texts` by the name of the field they stand in."""

    state: str
    level: str
    texts: Mapping[str, str]


class StationFigures(TypedDict):
    """One station and every place on its page."""

    hot: str
    pointer: str
    texts: Mapping[str, str]
    places: Mapping[str, PlaceFigures]


class FiguresMessage(TypedDict):
    """All stations, in the bench's display units."""

    as_of_s: float | None  # of the latest estimate
    stations: Mapping[str, StationFigures]


def figures(bench: BenchService) -> FiguresMessage:
    """The bench now, as its pages write it."""
    hub, now_s = bench.hub, bench.now_s()
    views = [station.station_view(bench, one, now_s) for one in station.statuses(bench)]
    return {
        "as_of_s": max((one.at_s for one in hub.estimates.values()), default=None),
        "stations": {view.name: _of_station(view) for view in views},
    }


def _of_station(view: StationView) -> StationFigures:
    return {
        "hot": view.hottest.level if view.hottest else "none",
        "pointer": view.pointer,
        "texts": view.texts,
        "places": {
            one.channel.name: {"state": one.state, "level": one.level, "texts": one.texts}
            for one in view.places
        },
    }


class Figures:
    """The figures as JSON, made once for all pages that are open."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench
        self._made: tuple[tuple[int, float], str] | None = None

    def json(self) -> str:
        """As of the latest change, and no more than AGE_S old: countdowns go on."""
        hub = self._bench.hub
        state = hub.changes, (hub.now_s or 0.0) // AGE_S
        if self._made is None or self._made[0] != state:
            self._made = state, json.dumps(figures(self._bench), separators=(",", ":"))
        return self._made[1]
