"""A burn whose temperatures follow a formula, as the store would hand it over."""

import math
from dataclasses import dataclass, field, replace
from datetime import timedelta, timezone
from functools import cache

from logger.alarms.lifecycle import (
    Finding,
    Priority,
    Signal,
    Timing,
    acknowledge,
    repeat,
    repeats_s,
    step,
)
from logger.burn.consumption import consumption
from logger.burn.limits import Limits, Material, WallLimits
from logger.burn.model import Burn
from logger.decision.verdict import judge
from logger.quantities import (
    BY_HAND,
    DEGC,
    Channel,
    Estimate,
    Kind,
    Place,
    Position,
    Quality,
    Quantity,
    Rule,
)
from logger.reports.burn_history import diary, faults, silences, stories, watchers
from logger.reports.document import BurnRecord, evidence, lettered
from logger.reports.place_heat import heat
from logger.words import Words

LIT_S = 1_935_738_300.0  # 2031-05-05T09:05:00Z
EVERY_S = 5.0
ROOM_C = 22.0

LIMITS = Limits(
    burn_length_s=14_400.0,
    burn_notice_s=900.0,
    cool_down_s=14_400.0,
    room_low_c=20.0,
    room_high_c=27.0,
    wall={Material.GLASS: WallLimits(alert_c=57.0, limit_c=60.0)},
)


def channel(name, position=Position.WALL, *, height_mm=None, clock=None, instrument="probes-a",
            accuracy=0.5, kind=Kind.CONTACT):  # fmt: skip
    return Channel(
        name=name,
        instrument=instrument,
        station=None if position is Position.ROOM else "jar-a",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=position, height_mm=height_mm, clock=clock),
        accuracy=accuracy,
        kind=kind,
        coupling=0.1,
    )


WALL_3 = channel("wall-3", height_mm=60.0, clock=3)
WALL_9 = channel("wall-9", height_mm=60.0, clock=9)
BASE = channel("base", Position.BASE)
ROOM = channel("room", Position.ROOM)
HAND = channel("jar-a-hand-rim", Position.RIM, instrument=BY_HAND, accuracy=None)


def estimate(name, at_s, value, u=0.3, quality=Quality.GOOD):
    return Estimate(
        channel=name,
        at_s=at_s,
        value=value,
        standard_uncertainty=u,
        repeatability=u,
        used=30,
        rejected=0,
        quality=quality,
    )


@cache
def warming(name, peak_c, *, length_s, u=0.3, tau_s=1800.0, without=()):
    """Newton's warming to `peak_c`, reached to 0.04 % after four hours."""

    def value_c(since_s):
        return peak_c - (peak_c - ROOM_C) * math.exp(-since_s / tau_s)

    return tuple(
        estimate(name, LIT_S + since_s, value_c(since_s), u)
        for since_s in (EVERY_S * count for count in range(int(length_s / EVERY_S) + 1))
        if not any(start <= since_s < end for start, end in without)
    )


@dataclass(kw_only=True)
class FormulaBurn:
    """Arguments of a burn; `record` and `evidence` are what comes of it."""

    peak_c: float = 55.0
    u: float = 0.3
    length_s: float = 14_400.0
    is_out: bool = True
    without: dict = field(default_factory=dict)  # channel: ((from, to), ...) seconds since lit
    channels: tuple = (WALL_3, WALL_9, BASE, ROOM)
    more: tuple = ()  # further estimates
    danger: object = None
    material: Material | None = Material.GLASS
    events: tuple = ()
    entries: tuple = ()
    unit: object = DEGC
    trial: str = "soy-7, wick 5"
    tester: str = "M6"
    bench: str = "back-room"
    settings_text: str = '[bench]\nname = "back-room"\n'
    number: int = 0
    calibrations: dict = field(default_factory=dict)  # channel: (Record, ...)
    outlook: str = "Fewer than three burns"
    fitted: bool = False  # whether its record tells of the heat, place by place

    @property
    def until_s(self):
        return LIT_S + self.length_s

    def series(self):
        peaks = {"wall-3": self.peak_c, "wall-9": self.peak_c - 5.0, "base": 42.0, "room": 26.0}
        found = {
            one.name: [
                *warming(
                    one.name,
                    peaks[one.name],
                    length_s=self.length_s,
                    u=self.u,
                    without=self.without.get(one.name, ()),
                )
            ]
            for one in self.channels
            if one.name in peaks
        }
        for one in self.more:
            found.setdefault(one.channel, []).append(one)
        for estimates in found.values():
            estimates.sort(key=lambda e: e.at_s)
        return lettered(
            self.channels,
            found,
            lit_s=LIT_S,
            until_s=self.until_s,
            to_s=self.until_s,
            silences=silences(self.events, self.until_s),
            faults=faults(self.events, self.until_s),
        )

    def burn(self, series):
        burn = Burn(
            id=f"jar-a-{int(LIT_S) + self.number}",
            station="jar-a",
            trial=self.trial,
            tester=self.tester,
            watched_by="Ines",
            lit_s=LIT_S,
            out_s=self.until_s if self.is_out else None,
            material=self.material,
        )
        for one in series:
            good = [e for e in one.estimates if e.quality is Quality.GOOD and e.upper is not None]
            if one.channel.on_vessel and good:  # of thousands, the two that a burn keeps
                burn = burn.with_estimate(max(good, key=lambda e: e.value), one.place)
                burn = burn.with_estimate(max(good, key=lambda e: e.upper), one.place)
        return replace(burn, danger=self.danger)

    def evidence(self):
        series = self.series()
        return evidence(self.burn(series), LIMITS, series, self.events, self.until_s)

    def verdict(self):
        return judge([self.evidence()], Words())

    def record(self):
        series = self.series()
        burn = self.burn(series)
        return BurnRecord(
            bench=self.bench,
            burn=burn,
            until_s=self.until_s,
            known_s=self.until_s,
            zone=timezone(timedelta(hours=2)),
            words=Words(temperature_in=self.unit),
            limits=LIMITS,
            series=series,
            alarms=stories(self.events),
            diary=diary(self.events, self.entries, Words(temperature_in=self.unit)),
            watched_by=watchers(burn, self.entries),
            checks=("smoke alarm works",),
            verdict=judge(
                [evidence(burn, LIMITS, series, self.events, self.until_s)],
                Words(temperature_in=self.unit),
            ),
            weighed=consumption([burn])[burn.id],
            heat=heat(
                series,
                LIMITS.of(self.material),
                lit_s=LIT_S,
                until_s=self.until_s,
                calibrations=self.calibrations,
            )
            if self.fitted
            else (),
            outlook=self.outlook,
            settings_text=self.settings_text,
            versions={"wickbench": "9.9.9"},
        )


class AlarmFromFormula:
    """One alarm that is told to begin, be seen and end; `events` are what happened to it."""

    def __init__(self, rule, name=None, *, priority=Priority.WARNING, text="look", limit=None):
        self._finding = Finding(
            rule=Rule(rule),
            subject=name or "jar-a",
            station="jar-a",
            channel=name,
            signal=Signal.ON,
            priority=priority,
            text=text,
            limit=limit,
        )
        self._timing = Timing()
        self._alarm = None
        self._happened = []

    @property
    def events(self):
        return tuple(self._happened)

    def on(self, since_s):
        return self._step(self._finding, since_s)

    def off(self, since_s):
        return self._step(replace(self._finding, signal=Signal.OFF), since_s)

    def seen(self, since_s, by="Otto", where="page"):
        self._alarm, events = acknowledge(self._alarm, LIT_S + since_s, by=by, where=where)
        self._happened += events
        return self

    def _step(self, finding, since_s):
        now_s = LIT_S + since_s
        self._alarm, events = step(self._alarm, finding, self._timing, now_s, "burn-1")
        self._happened += events
        due_s = repeats_s(self._alarm, finding, self._timing)
        if due_s is not None and now_s >= due_s:
            self._alarm, events = repeat(self._alarm, finding, now_s, "burn-1")
            self._happened += events
        return self
