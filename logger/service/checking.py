"""`wickbench check`: each instrument, the broker, the disk and the page, tried once."""

import asyncio
from collections.abc import Iterable, Mapping, Sequence

from logger.burn.entries import Calibrated
from logger.clock import RealClock
from logger.conditioning.calibration import Calibration
from logger.conditioning.conditioner import Conditioner
from logger.errors import InstrumentError, StoreError
from logger.instruments.from_settings import build
from logger.instruments.instrument_link import InstrumentLink, Refusals
from logger.messages import Message, rounded
from logger.quantities import Channel, Quality, Reading
from logger.service import checking_routes, client, doubts
from logger.service.check_items import Item, Report
from logger.service.keeping import kept_in_words
from logger.service.looser import looser
from logger.settings import InstrumentSettings, Settings
from logger.settings.drivers.bluetooth_keys import BluetoothKeys
from logger.store.lock import holder
from logger.store.queries import known_calibrations
from logger.timestamps import parse_rfc3339, rfc3339
from logger.web.static import NO_CHART, has_chart

LISTEN_S = 9.0  # from the first reading on: one a second is `SETTLED` in it, and one to spare
FIRST_S = 15.0  # how long that may take: what `silent_after` allows by default
FIND_S = 20.0  # for one that must be found and connected to first (our choice)


def check_bench(settings: Settings) -> Report:
    """Try everything that `settings` names; a running service is asked instead of its ports.

    The broker, which takes a second connection, and the alarm program are tried either way.
    """
    if holder(settings.bench.data) is not None:
        bench = client.settled(settings, LISTEN_S)
        tried = asyncio.run(checking_routes.delivery_routes(settings))
        found = (*_running(bench, settings), *tried)
    else:
        found = tuple(asyncio.run(_try_all(settings)))
    return Report(items=(*found, *_limits(settings)))


def _limits(settings: Settings) -> Iterable[Item]:
    text = doubts.limits_in_force(settings.limits, settings.words)
    yield Item(what="limits", ok=True, text=text)
    for line in looser(
        settings.limits,
        settings.alarms.unwatched_s,
        settings.words,
        criteria=settings.criteria,
    ):
        yield Item(what="limits", ok=True, text=f"CAUTION: {line}")
    yield Item(
        what="by hand", ok=True, text=doubts.by_hand(settings.by_hand.accuracy, settings.words)
    )
    yield Item(what="readings", ok=True, text=kept_in_words(settings))
    if not has_chart():
        yield Item(what="curves", ok=True, text=NO_CHART)


def _running(bench: Message, settings: Settings) -> Iterable[Item]:
    """As the service has it; what an uncertainty is made of only a check of its own tells."""
    now_s = parse_rfc3339(bench["time"])
    yield Item(what="service", ok=True, text=f"runs and was asked; its bench says {bench['time']}")
    if (sent := bench["forwarding"]) is not None:
        well = not (sent["trouble"] or sent["set_aside"])
        yield Item(what="forwarding", ok=well, text=sent["text"], figures={"engine": sent})
    channels = {channel.name: channel for channel in settings.channels}
    refused: list[Message] = []
    if (room := bench["storage"]) is not None:
        yield Item(what="data", ok=room["ok"], text=room["text"], figures={"storage": room})
    for link in bench["instruments"]:
        refused += link["refused"]
        yield Item(
            what=f"instrument {link['name']}",
            ok=link["state"] == "up",
            text=f"{link['state']}: {link['reason']}"
            f"{_radio(link['battery_percent'], link['signal_dbm'])}{_refused(link['refused'])}",
            figures={"readings": link["readings"], "refused": link["refused"]},
        )
    for known in bench["channels"]:
        estimate, channel = known["estimate"], channels.get(known["name"])
        what = f"channel {known['name']}"
        if channel is None:
            continue  # read by hand, or of a configuration that is in force no more
        mine = [one for one in refused if one["channel"] == channel.name]
        if estimate is None or estimate["value"] is None:
            yield Item(what=what, ok=False, text=f"no reading yet{_refused(mine)}")
            continue
        age_s = now_s - parse_rfc3339(estimate["time"])
        value, u = estimate["value"], estimate["standard_uncertainty"] or 0.0
        assumed = estimate["accuracy_assumed"]
        text = f"{_value(channel, value, u, settings, assumed=assumed)}, {estimate['quality']}"
        if estimate["quality"] == Quality.DOUBTFUL.value:
            why = doubts.why_doubtful(channel, estimate["used"], estimate["rejected"])
            text = f"{text} ({why})"
        odd = doubts.odd_unit(channel, value, settings.words)
        text = f"{text}, {age_s:.0f} s old{_early(channel, u, settings)}{_refused(mine)}"
        yield Item(
            what=what,
            ok=estimate["quality"] == "good" and odd is None,
            text=_with_doubt(text, odd),
            figures={**_figures(channel, value, u), "age_s": rounded(age_s), "refused": mine},
        )


def _with_doubt(text: str, doubt: str | None) -> str:
    return text if doubt is None else f"{text}. {doubt}"


def _refused(refused: Sequence[Message]) -> str:
    total = sum(one["count"] for one in refused)
    if not total:
        return ""
    latest = max(refused, key=lambda one: str(one["time"]))
    seen = f" ({latest['excerpt']!r})" if latest["excerpt"] else ""
    return f"; {total} refused, the latest: {latest['reason']}{seen}"


async def _try_all(settings: Settings) -> list[Item]:
    known = _calibrations(settings)
    heard = {
        channel.name: _Heard(channel, [one.record for one in known if one.channel == channel.name])
        for channel in settings.channels
    }
    found = await asyncio.gather(
        *(_instrument(one, heard, settings) for one in settings.instruments),
        checking_routes.delivery_routes(settings),
        checking_routes.data(settings),
        checking_routes.page(settings),
    )
    return [item for items in found for item in items]


def _calibrations(settings: Settings) -> list[Calibrated]:
    try:
        return known_calibrations(settings.bench.data)
    except StoreError:
        return []  # the item `data` says what is wrong there


class _Heard:
    """A channel while it is listened to."""

    def __init__(self, channel: Channel, calibrations: Sequence[Calibration]) -> None:
        self.channel = channel
        self.conditioner = Conditioner(channel, calibrations=calibrations)
        self.count = 0
        self.first: Reading | None = None

    def add(self, reading: Reading, reflected_c: float | None) -> None:
        """Take one more."""
        self.first = self.first or reading
        self.count += 1
        self.conditioner.add(reading, reflected_c=reflected_c)


async def _instrument(
    configured: InstrumentSettings, heard: Mapping[str, _Heard], settings: Settings
) -> list[Item]:
    clock = RealClock()
    instrument = build(configured, clock.now_s)
    link, begun_s = instrument.link, clock.now_s()
    trouble: str | None = None
    mine = [heard[channel.name] for channel in configured.channels]
    try:
        async with (
            asyncio.timeout(_patience_s(configured)) as patience,
            instrument.open() as readings,
        ):
            async for reading in readings:
                if not any(one.count for one in mine):
                    patience.reschedule(asyncio.get_running_loop().time() + LISTEN_S)
                mirrored = heard[reading.channel].channel.reflected
                if isinstance(mirrored, str):
                    mirrored = heard[mirrored].conditioner.estimate(reading.at_s).value
                heard[reading.channel].add(reading, mirrored)
    except TimeoutError:
        pass  # listened to for as long as was meant
    except InstrumentError as exc:
        trouble = exc.reason
    count = sum(one.count for one in mine)
    text = f"open, but silent for {_patience_s(configured):.0f} s"
    if count:
        text = f"{count} readings in {clock.now_s() - begun_s:.0f} s"
    about = f" from {link.about}" if link.about else ""
    about += _radio(link.battery_percent, link.signal_dbm)
    refused = [_refusal(*one) for one in _refusals(link)]
    of_nobody = [one for one in refused if one["channel"] is None]
    item = Item(
        what=f"instrument {configured.name}",
        ok=trouble is None and count > 0,
        text=(trouble or text + about) + _refused(of_nobody),
        figures={"readings": count, "refused": refused},
    )
    now_s = clock.now_s()
    return [item] + [
        _channel(
            one,
            [r for r in refused if r["channel"] == one.channel.name],
            begun_s,
            now_s,
            settings,
            alone=count > 0,
        )
        for one in mine
    ]


def _patience_s(configured: InstrumentSettings) -> float:
    """How long it may take to the first reading; a Bluetooth sensor must be found first."""
    if not isinstance(configured.keys, BluetoothKeys):
        return FIRST_S
    return max(FIND_S, configured.keys.silent_after_s or 0.0)


def _radio(battery_percent: int | None, signal_dbm: int | None) -> str:
    said = "" if battery_percent is None else f"; battery {battery_percent} %"
    return said if signal_dbm is None else f"{said}; signal {signal_dbm} dBm"


def _refusals(link: InstrumentLink) -> Iterable[tuple[str | None, str, Refusals]]:
    return ((channel, reason, found) for (channel, reason), found in link.refused.items())


def _refusal(channel: str | None, reason: str, found: Refusals) -> Message:
    return {
        "channel": channel,
        "reason": reason,
        "count": found.count,
        "excerpt": found.excerpt,
        "time": rfc3339(found.at_s),
    }


def _channel(
    heard: _Heard,
    refused: list[Message],
    begun_s: float,
    now_s: float,
    settings: Settings,
    *,
    alone: bool,
) -> Item:
    """`alone`: where it says nothing, others of its instrument do."""
    channel, conditioner, first = heard.channel, heard.conditioner, heard.first
    what = f"channel {channel.name}"
    estimate, budget = conditioner.estimate(now_s), conditioner.budget(now_s)
    figures: Message = {"readings": heard.count, "refused": refused}
    if first is None or estimate.value is None or budget is None:
        why = _refused(refused)
        look = "check the field, the wire, the probe" if alone else "see its instrument"
        text = f"no reading{why or ': ' + look}"
        return Item(what=what, ok=False, text=text, figures=figures)
    words = settings.words

    def step(size: float) -> str:
        return words.step(size, channel.quantity, figures=2)

    u, noise, age_s = budget.combined, conditioner.noise, now_s - (conditioner.last_s or now_s)
    interval_s = conditioner.interval_s
    every = "" if interval_s is None else f", every {interval_s:.1f} s"
    more_refused = sum(one["count"] for one in refused) > heard.count
    doubtful = ""
    if estimate.quality is Quality.DOUBTFUL:
        why = doubts.why_doubtful(channel, estimate.used, estimate.rejected)
        doubtful = f", doubtful ({why})"
    odd = doubts.odd_unit(channel, estimate.value, words)
    text = (
        f"{_value(channel, estimate.value, u, settings, assumed=estimate.accuracy_assumed)}"
        f"{doubtful}{_early(channel, u, settings)}; "
        f"first {first.value:g} {channel.unit.symbol} after {first.at_s - begun_s:.1f} s, "
        f"latest {age_s:.1f} s old{every}, noise {step(noise)}{_refused(refused)}"
    )
    return Item(
        what=what,
        ok=estimate.quality is not Quality.LOST and not more_refused and odd is None,
        text=_with_doubt(text, odd),
        figures={
            **_figures(channel, estimate.value, u),
            **figures,
            "first": rounded(first.value),
            "first_after_s": rounded(first.at_s - begun_s),
            "age_s": rounded(age_s),
            "interval_s": None if interval_s is None else rounded(interval_s),
            "noise": rounded(noise),
            "budget": {part.name: rounded(part.standard_uncertainty) for part in budget.components},
        },
        details=tuple(
            (part.name, step(part.standard_uncertainty), part.basis(words))
            for part in budget.components
        ),
    )


def _figures(channel: Channel, value: float, u: float) -> Message:
    return {
        "value": rounded(value),
        "unit": channel.quantity.unit,
        "standard_uncertainty": rounded(u),
        "warns_early": rounded(2.0 * u) if channel.on_vessel else None,
    }


def _value(channel: Channel, value: float, u: float, settings: Settings, *, assumed: bool) -> str:
    """With its expanded uncertainty, k = 2, in the unit that the bench shows."""
    expanded = settings.words.expanded_uncertainty(u, assumed=assumed, quantity=channel.quantity)
    return f"{settings.words.value(value, channel.quantity)} {expanded}"


def _early(channel: Channel, u: float, settings: Settings) -> str:
    """How far before the limit its alarms come, because it may read too low by that much."""
    if not channel.on_vessel:
        return ""
    return f", alarms {settings.words.difference(2.0 * u)} below the limit"
