"""The bench for a program that watches programs: GET /metrics, in the OpenMetrics text format.

Names follow OpenMetrics 1.0: base units, spelt out at the end; a sample that is not known is left
out, never 0.
"""

from collections.abc import Iterator

from prometheus_client.metrics_core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest
from prometheus_client.registry import Collector
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.burn.model import BurnPhase
from logger.instruments.instrument_link import LinkState
from logger.quantities import Quality, Quantity
from logger.web import views
from logger.web.api import bench_of
from logger.web.bench_service import BenchService

_UNITS = {
    Quantity.TEMPERATURE: "celsius",
    Quantity.MASS: "grams",
    Quantity.HUMIDITY: "percent",
}


class _BenchMetrics(Collector):
    """What `bench` is now, as families of samples."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench

    def collect(self) -> Iterator[Metric]:
        yield from self._channels()
        yield from self._stations()
        yield from self._instruments()
        yield from self._health()

    def _channels(self) -> Iterator[Metric]:
        labels = ["channel", "station"]
        good = _gauge("channel_good", "1 where the estimate may be believed", labels)
        values = {
            quantity: (
                _gauge(f"{quantity}_{unit}", f"Estimate of each {quantity} now", labels),
                _gauge(
                    f"{quantity}_standard_uncertainty_{unit}",
                    f"Standard uncertainty of each {quantity}",
                    labels,
                ),
            )
            for quantity, unit in _UNITS.items()
        }
        for channel in views.channels(self._bench):
            estimate = self._bench.hub.estimates.get(channel.name)
            if estimate is None:
                continue
            of = [channel.name, channel.station or ""]
            good.add_metric(of, float(estimate.quality is Quality.GOOD))
            figures = (estimate.value, estimate.standard_uncertainty)
            for family, figure in zip(values[channel.quantity], figures, strict=True):
                if figure is not None and estimate.quality is not Quality.LOST:
                    family.add_metric(of, figure)
        yield good
        yield from (family for pair in values.values() for family in pair)

    def _stations(self) -> Iterator[Metric]:
        labels = ["station"]
        lit = _gauge("station_lit", "1 where a person last recorded it lit", labels)
        elapsed = _gauge("burn_elapsed_seconds", "Burning time of the latest burn", labels)
        limit = _gauge("wall_limit_celsius", "Limit of the wall", labels)
        margin = _gauge(
            "wall_margin_celsius", "Limit minus the hottest measured place with its ±", labels
        )
        for name, status in self._bench.hub.statuses.items():
            lit.add_metric([name], float(status.phase is BurnPhase.LIT))
            limit.add_metric([name], status.limit_c)
            if status.elapsed_s is not None:
                elapsed.add_metric([name], status.elapsed_s)
            if status.margin_c is not None:
                margin.add_metric([name], status.margin_c)
        yield from (lit, elapsed, limit, margin)
        alarms = _gauge(
            "alarm_active", "1 for each alarm that is not normal", ["rule", "subject", "priority"]
        )
        for alarm in self._bench.hub.alarms.values():
            if alarm.active:
                finding = alarm.finding
                alarms.add_metric([finding.rule, finding.subject, finding.priority], 1.0)
        yield alarms

    def _instruments(self) -> Iterator[Metric]:
        labels = ["instrument"]
        up = _gauge("instrument_up", "1 where its readings come in", labels)
        counts = {
            "readings": CounterMetricFamily(
                "wickbench_instrument_readings", "Readings taken", labels=labels
            ),
            "dropped": CounterMetricFamily(
                "wickbench_instrument_dropped", "Readings whose time was not known", labels=labels
            ),
            "reconnects": CounterMetricFamily(
                "wickbench_instrument_reconnects", "Times it was connected again", labels=labels
            ),
        }
        for link in self._bench.links:
            up.add_metric([link.name], float(link.state is LinkState.UP))
            for name, family in counts.items():
                family.add_metric([link.name], float(getattr(link, name)))
        yield from (up, *counts.values())

    def _health(self) -> Iterator[Metric]:
        room, forwarding = self._bench.disk_space.now, self._bench.hub.forwarding
        if room is not None:
            yield _one("database_bytes", "What the database takes", room.space.used_bytes)
            yield _one("disk_free_bytes", "What is left for it", room.space.free_bytes)
        if forwarding is not None:
            yield _one("forwarding_behind_seconds", "Age of what waits", forwarding.behind_s)
            yield _one("forwarding_waiting", "Points that wait for the engine", forwarding.waiting)
            yield _one("forwarding_set_aside", "Points it refused", forwarding.set_aside)


def _gauge(name: str, words: str, labels: list[str]) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"wickbench_{name}", words, labels=labels)


def _one(name: str, words: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"wickbench_{name}", words, value=float(value))


async def metrics(request: Request) -> Response:
    """GET /metrics: the bench as it is now, in the OpenMetrics text format."""
    text = generate_latest(_BenchMetrics(bench_of(request)))  # type: ignore[no-untyped-call]
    return Response(text, media_type=CONTENT_TYPE_LATEST)


ROUTES = (Route("/metrics", metrics),)
