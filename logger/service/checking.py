"""`wickbench check`: each instrument, the broker, the disk and the page, tried once."""

import asyncio
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from logger.clock import RealClock
from logger.conditioning.conditioner import Conditioner
from logger.errors import InstrumentError, WickbenchError
from logger.instruments.drivers import build
from logger.instruments.instrument import Instrument
from logger.messages import Message, rounded
from logger.publish.mqtt import probe
from logger.quantities import Channel, Quantity
from logger.service import client
from logger.service.core import bench_of
from logger.settings import Settings
from logger.store.lock import holder
from logger.store.store import Store
from logger.web import server

LISTEN_S = 6.0  # how long an instrument is listened to


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that was tried."""

    what: str  # "instrument probes-a", "channel jar-a-wall-3", "broker", "page", "data"
    ok: bool
    text: str
    figures: Message = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Everything that was tried."""

    items: tuple[Item, ...]

    @property
    def ok(self) -> bool:
        """Whether all of it works."""
        return all(item.ok for item in self.items)

    def message(self) -> Message:
        """As JSON."""
        return {
            "ok": self.ok,
            "items": [
                {"what": item.what, "ok": item.ok, "text": item.text, **item.figures}
                for item in self.items
            ],
        }


def check_bench(settings: Settings) -> Report:
    """Try everything that `settings` names; a running service is asked instead of its ports."""
    if holder(settings.bench.data) is not None:
        bench = client.now(settings)
        assert bench is not None
        return Report(items=tuple(_running(bench)))
    return Report(items=tuple(asyncio.run(_try_all(settings))))


def _running(bench: Message) -> Iterable[Item]:
    yield Item(what="service", ok=True, text=f"runs; its bench says {bench['time']}")
    for link in bench["instruments"]:
        yield Item(
            what=f"instrument {link['name']}",
            ok=link["state"] == "up",
            text=f"{link['state']}: {link['reason']}{_refused(link['refused'])}",
        )
    for channel in bench["channels"]:
        estimate = channel["estimate"]
        good = estimate is not None and estimate["quality"] == "good"
        text = "no reading yet"
        if estimate is not None:
            text = (
                f"{estimate['value']} {estimate['unit']} ± {estimate['standard_uncertainty']}, "
                f"{estimate['quality']}"
            )
        yield Item(what=f"channel {channel['name']}", ok=good, text=text)


def _refused(refused: Sequence[Message]) -> str:
    total = sum(one["count"] for one in refused)
    if not total:
        return ""
    latest = max(refused, key=lambda one: str(one["time"]))
    return f"; {total} refused, the latest: {latest['reason']} ({latest['excerpt']!r})"


async def _try_all(settings: Settings) -> list[Item]:
    found = await asyncio.gather(
        *(_instrument(one, settings) for one in settings.instruments),
        _broker(settings),
        _data(settings),
        _page(settings),
    )
    return [item for items in found for item in items]


async def _instrument(configured: Any, settings: Settings) -> list[Item]:
    clock = RealClock()
    instrument: Instrument = build(configured, clock.now_s)
    conditioners = {channel.name: Conditioner(channel) for channel in configured.channels}
    trouble: str | None = None
    try:
        async with asyncio.timeout(LISTEN_S), instrument.open() as readings:
            async for reading in readings:
                conditioners[reading.channel].add(reading)
    except TimeoutError:
        pass  # listened to for as long as was meant
    except InstrumentError as exc:
        trouble = exc.reason
    refused = [
        {"reason": reason, "count": found.count, "excerpt": found.excerpt, "time": found.at_s}
        for (_, reason), found in instrument.link.refused.items()
    ]
    heard = any(conditioner.last_s is not None for conditioner in conditioners.values())
    text = trouble or ("readings come" if heard else f"open, but silent for {LISTEN_S:.0f} s")
    items = [
        Item(
            what=f"instrument {configured.name}",
            ok=trouble is None and heard,
            text=text + _refused(refused),
        )
    ]
    if heard:
        items.extend(
            _channel(channel, conditioners[channel.name], clock.now_s(), settings)
            for channel in configured.channels
        )
    return items


def _channel(channel: Channel, conditioner: Conditioner, now_s: float, settings: Settings) -> Item:
    what = f"channel {channel.name}"
    estimate, budget = conditioner.estimate(now_s), conditioner.budget(now_s)
    if estimate.value is None or estimate.standard_uncertainty is None or budget is None:
        return Item(what=what, ok=False, text="no reading: check the field, the wire, the probe")
    unit = channel.quantity.unit
    value = f"{estimate.value:.2f} {unit}"
    expanded = 2.0 * estimate.standard_uncertainty
    if channel.quantity is Quantity.TEMPERATURE:
        words = bench_of(settings).words
        value = words.of(estimate.value)
        early = f"; warns {words.spread(expanded)} early" if channel.on_vessel else ""
    else:
        early = ""
    parts = ", ".join(
        f"{part.name} {part.standard_uncertainty:.2g} ({part.basis})" for part in budget.components
    )
    return Item(
        what=what,
        ok=True,
        text=f"{value}, standard uncertainty {estimate.standard_uncertainty:.2g} {unit}{early}. "
        f"Made of: {parts}",
        figures={
            "value": rounded(estimate.value),
            "unit": unit,
            "standard_uncertainty": rounded(estimate.standard_uncertainty),
            "interval_s": rounded(conditioner.interval_s),
            "budget": {part.name: rounded(part.standard_uncertainty) for part in budget.components},
        },
    )


async def _broker(settings: Settings) -> list[Item]:
    if settings.mqtt is None:
        text = "none is configured: alarms reach the terminal and the page only"
        return [Item(what="broker", ok=True, text=text)]
    trouble = await probe(settings.mqtt, settings.bench.name)
    return [Item(what="broker", ok=trouble is None, text=trouble or "takes messages")]


async def _data(settings: Settings) -> list[Item]:
    data = settings.bench.data
    try:
        store = await Store.open(data)
    except WickbenchError as exc:
        return [Item(what="data", ok=False, text=str(exc))]
    await store.close()
    return [Item(what="data", ok=True, text=f"{data} can be written")]


async def _page(settings: Settings) -> list[Item]:
    try:
        bound = server.listen(settings.web or server.DEFAULT)
    except WickbenchError as exc:
        return [Item(what="page", ok=False, text=str(exc))]
    url = server.url_of(bound)
    bound.close()
    text = f"{url} is free" if settings.web else "no [web]: a free port is taken for commands"
    return [Item(what="page", ok=True, text=text)]
