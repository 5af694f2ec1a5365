"""[pure] All that is known of one burn: what its record is written from and its verdict rests on.

Out of a database or out of a replay, it is put together here. A burn is told and judged by the
bench that it was lit on.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from logger.burn.consumption import Consumption, consumption, with_balance
from logger.burn.coverage import WallCoverage, wall_coverage
from logger.burn.entries import Entry, Observed
from logger.burn.evidence import BurnEvidence
from logger.burn.limits import Limits
from logger.burn.marks import BurnMark, marks
from logger.burn.melt_pool import MeltPool, melt_pool
from logger.burn.model import Burn
from logger.conditioning.calibration import Calibration, in_force
from logger.decision.outlook import Outlook, outlook
from logger.decision.proves import Proof, proofs
from logger.decision.verdict import judge
from logger.pipeline import Bench, Event
from logger.quantities import Channel, Estimate, Quantity
from logger.reports.burn_history import (
    AlarmStory,
    checks,
    diary,
    faults,
    silences,
    stories,
    watchers,
)
from logger.reports.document import BurnRecord, PlaceHeat, Series, evidence, lettered
from logger.reports.place_heat import heat
from logger.service.core import VERSION
from logger.service.looser import looser

AFTER_S = 1800.0  # of the cooling is in the curve: enough to see the wall fall (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnStory:
    """What is known of one burn."""

    burn: Burn
    bench: Bench  # that it was lit on
    settings_text: str
    events: tuple[Event, ...]
    entries: tuple[Entry, ...]
    looks: tuple[Observed, ...] = ()  # as they count, in order of time
    series: tuple[Series, ...]
    on_balance: tuple[Estimate, ...] = ()  # of the candle's mass, where a balance carries it
    calibrations: Mapping[str, Sequence[Calibration]]  # by channel, as known by the end
    until_s: float  # out, or as far as anything is known
    known_s: float

    @property
    def limits(self) -> Limits:
        """By which it is judged: those in force when it was lit."""
        return self.burn.limits or self.bench.limits

    @property
    def evidence(self) -> BurnEvidence:
        """What it is judged on."""
        in_force_then = {
            name: record
            for name, records in self.calibrations.items()
            if (record := in_force(records, self.until_s))
        }
        return evidence(
            self.burn,
            self.limits,
            self.series,
            self.events,
            self.until_s,
            calibrations=in_force_then,
            looks=self.looks,
            criteria=self.bench.criteria,
        )

    @property
    def marks(self) -> tuple[BurnMark, ...]:
        """At which somebody should have looked, and what became of each."""
        return marks_of(self.burn, self.bench, self.looks, self.until_s)

    @property
    def melt_pool(self) -> MeltPool:
        """As people saw it."""
        return melt_pool(self.looks, self.burn.lit_s, self.burn.inner_diameter_mm)

    @property
    def zone(self) -> tzinfo:
        """In which its times of day are written."""
        return zone_of(self.burn)

    @property
    def alarms(self) -> tuple[AlarmStory, ...]:
        """Each from its raising to its end."""
        return stories(self.events)

    @property
    def heat(self) -> tuple[PlaceHeat, ...]:
        """Place by place."""
        return heat(
            self.series,
            self.limits.of(self.burn.material),
            lit_s=self.burn.lit_s,
            until_s=self.until_s,
            calibrations=self.calibrations,
            expected=self.burn.expected,
        )

    def consumption(self, of_trial: Sequence[Burn]) -> Consumption:
        """What weighing it tells, or the balance it stood on."""
        return with_balance(consumption(of_trial)[self.burn.id], self.burn, self.on_balance)

    @property
    def wall_coverage(self) -> WallCoverage | None:
        """Which parts of the wall were measured; None where no place on it has a height."""
        return wall_coverage((one.coverage for one in self.series), self.bench.words.length_in)

    def proofs(self, of_trial: Sequence[Burn]) -> tuple[Proof, ...]:
        """What it proves, and what it leaves open."""
        return proofs(self.evidence, self.consumption(of_trial), of_trial)

    def outlook(self, of_trial: Sequence[Burn]) -> Outlook:
        """What the burns of its trial say of those to come."""
        limit_c = self.limits.of(self.burn.material).limit_c
        return outlook(of_trial, self.bench.words, limit_c=limit_c)

    def record(self, of_trial: Sequence[Burn], *, damage: tuple[str, ...] = ()) -> BurnRecord:
        """What is handed over of it; `of_trial` are the burns of its trial."""
        words, evidence, weighed = self.bench.words, self.evidence, self.consumption(of_trial)
        return BurnRecord(
            bench=self.bench.name,
            burn=self.burn,
            until_s=self.until_s,
            known_s=self.known_s,
            zone=self.zone,
            words=words,
            limits=self.limits,
            series=self.series,
            alarms=self.alarms,
            diary=diary(self.events, self.entries, words),
            watched_by=watchers(self.burn, self.entries),
            checks=checks(self.entries),
            verdict=judge([evidence], words),
            heat=self.heat,
            weighed=weighed,
            looks=self.looks,
            marks=self.marks,
            melt_pool=self.melt_pool,
            proofs=proofs(evidence, weighed, of_trial),
            outlook=self.outlook(of_trial).text,
            settings_text=self.settings_text,
            looser=tuple(
                looser(
                    self.limits,
                    self.bench.ask_every_s,
                    words,
                    self.burn.material,
                    self.bench.criteria,
                )
            ),
            versions={"wickbench": VERSION},
            damage=damage,
        )


def marks_of(
    burn: Burn, bench: Bench, looks: Iterable[Observed], until_s: float
) -> tuple[BurnMark, ...]:
    """At which somebody should have looked up to `until_s`, and what became of each."""
    looked_s = [one.at_s - burn.lit_s for one in looks]
    marks_s = bench.marks.of(burn.circumstances.regime)
    return tuple(marks(marks_s, looked_s, burn.elapsed_s(until_s), lit=burn.lit))


def to_s(burn: Burn) -> float | None:
    """Up to when its estimates belong to it."""
    return None if burn.out_s is None else burn.out_s + AFTER_S


def zone_of(burn: Burn) -> tzinfo:
    """The zone of its day: a fixed offset, so that no clock jumps within a burn."""
    return datetime.fromtimestamp(burn.lit_s, UTC).astimezone().tzinfo or UTC


def latest_s(estimates: Mapping[str, Sequence[Estimate]]) -> list[float]:
    """The latest time of each channel that has any."""
    return [found[-1].at_s for found in estimates.values() if found]


def known_s(burn: Burn, latest: Iterable[float]) -> float:
    """Up to when anything is known of it, by the latest times of its channels."""
    return max([*latest, burn.lit_s, burn.out_s or 0.0])


def burn_story(
    burn: Burn,
    bench: Bench,
    settings_text: str,
    channels: Sequence[Channel],
    estimates: Mapping[str, Sequence[Estimate]],
    *,
    events: Sequence[Event],
    before: Sequence[Event],
    entries: Sequence[Entry],
    calibrations: Mapping[str, Sequence[Calibration]],
    looks: Sequence[Observed] = (),
) -> BurnStory:
    """The story of `burn`; `events` are its own, `before` those of the bench from before it.

    A sensor that was at fault when the candle was lit was told then, not again.
    """
    end_s = known_s(burn, latest_s(estimates))
    until_s = end_s if burn.out_s is None else burn.out_s
    return BurnStory(
        burn=burn,
        bench=bench,
        settings_text=settings_text,
        events=tuple(events),
        entries=tuple(entries),
        looks=tuple(sorted(looks, key=lambda one: one.at_s)),
        series=lettered(
            channels,
            estimates,
            lit_s=burn.lit_s,
            until_s=until_s,
            to_s=end_s,
            silences=silences(events, end_s),
            faults=faults((*before, *events), end_s),
        ),
        on_balance=_on_balance(burn, channels, estimates),
        calibrations=calibrations,
        until_s=until_s,
        known_s=end_s,
    )


def _on_balance(
    burn: Burn, channels: Sequence[Channel], estimates: Mapping[str, Sequence[Estimate]]
) -> tuple[Estimate, ...]:
    """Of the first balance at the burn's own station."""
    balance = next(
        (
            one.name
            for one in channels
            if one.quantity is Quantity.MASS and one.station == burn.station
        ),
        "",
    )
    return tuple(estimates.get(balance, ()))
