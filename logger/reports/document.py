"""The record of a burn as a value: everything the printed page says, put together, nothing read."""

import string
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo

from logger.alarms.lifecycle import RAISED, AlarmEvent, AlarmEventKind, Finding
from logger.burn.consumption import Consumption
from logger.burn.coverage import WallCoverage, wall_coverage
from logger.burn.entries import Observed
from logger.burn.evidence import BurnEvidence, Coverage, Gap, Raised, cover, crossing, gaps
from logger.burn.heat import InWarmestRoom, Rooms, WarmUp
from logger.burn.limits import CriterionValue, Limits, WallLimits
from logger.burn.marks import BurnMark
from logger.burn.melt_pool import MeltPool
from logger.burn.model import Burn, Hottest, measured
from logger.conditioning.calibration import Calibration
from logger.conditioning.uncertainty import Budget
from logger.decision.proves import Proof
from logger.decision.verdict import Verdict
from logger.pipeline import Event
from logger.quantities import Channel, Estimate, Place, Position, Quality, Quantity, Rule
from logger.reports.burn_history import AlarmStory, DiaryLine
from logger.words import Words

_ORDER = (
    Position.WALL,
    Position.RIM,
    Position.BASE,
    Position.MELT_POOL,
    Position.SUPPORT,
    Position.ROOM,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A channel, the letter it carries in curve and tables, and what it was over the burn."""

    letter: str
    channel: Channel
    estimates: tuple[Estimate, ...]  # in order of time
    gaps: tuple[Gap, ...]  # over all that is drawn
    coverage: Coverage  # of the burn alone

    @property
    def place(self) -> Place:
        """Where it looks."""
        return self.channel.place

    @property
    def by_hand(self) -> bool:
        """Whether a person read it."""
        return self.channel.by_hand

    @property
    def highest(self) -> Hottest | None:
        """The highest good estimate; for a temperature."""
        good = [e for e in self.estimates if e.quality is Quality.GOOD and e.value is not None]
        highest = max(good, key=lambda e: e.value or 0.0, default=None)
        return None if highest is None else measured(highest, self.place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo of the candle."""

    at_s: float
    by: str
    text: str
    jpeg: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceHeat:
    """What a place did in a burn; None where it is not on the vessel or was not measured so."""

    series: Series
    budget: Budget | None = None  # of its highest estimate
    warm_up: WarmUp | None = None
    over_alert_s: float | None = None
    over_limit_s: float | None = None
    warmest: InWarmestRoom | None = None  # what its highest means for a warmer room

    @property
    def plateau_seen(self) -> bool:
        """Whether the place was measured at its plateau, within its expanded uncertainty."""
        fit, highest = self.warm_up, self.series.highest
        if fit is None or highest is None:
            return False
        return fit.settled and fit.plateau_c <= highest.upper_c


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnRecord:
    """All that is handed over of one burn."""

    bench: str
    burn: Burn
    until_s: float  # out, or `known_s`
    known_s: float  # up to when it tells what was stored
    zone: tzinfo  # in which its times of day are written
    words: Words  # in which its figures are written
    limits: Limits
    series: tuple[Series, ...]
    alarms: tuple[AlarmStory, ...]
    diary: tuple[DiaryLine, ...]
    watched_by: tuple[str, ...]
    checks: tuple[str, ...] | None  # confirmed before lighting; None: not asked
    verdict: Verdict
    heat: tuple[PlaceHeat, ...] = ()
    weighed: Consumption
    looks: tuple[Observed, ...] = ()  # at the candle, as they count, in order of time
    photos: tuple[Photo, ...] = ()
    marks: tuple[BurnMark, ...] = ()  # at which somebody should have looked
    melt_pool: MeltPool = field(default_factory=MeltPool)  # as people saw it
    proofs: tuple[Proof, ...] = ()  # what it proves, and what it leaves open
    outlook: str = ""  # on the burns to come, from all of the trial
    looser: tuple[str, ...] = ()  # limits that warned later than their defaults
    settings_text: str  # the settings in force, as they stood
    versions: Mapping[str, str]  # of the program, and of what it ran on
    damage: tuple[str, ...] = ()  # rows of the database that could not be read

    @property
    def wall(self) -> WallLimits:
        """The lines that stood for this vessel."""
        return self.limits.of(self.burn.material)

    @property
    def wall_coverage(self) -> WallCoverage | None:
        """Which parts of the wall were measured; None where no place on it has a height."""
        return wall_coverage((one.coverage for one in self.series), self.words.length_in)

    @property
    def room(self) -> Series | None:
        """The room's temperature, if any channel measured it."""
        return next((s for s in self.series if s.place.position is Position.ROOM), None)


def lettered(
    channels: Iterable[Channel],
    estimates: Mapping[str, Sequence[Estimate]],
    *,
    lit_s: float,
    until_s: float,
    to_s: float,
    silences: Mapping[str, Sequence[Gap]],
    faults: Mapping[str, Sequence[Gap]],
) -> tuple[Series, ...]:
    """The temperature channels `with_letters`.

    The burn is [lit_s, until_s], what is drawn goes on to `to_s`.
    """
    return tuple(
        _series(
            letter,
            channel,
            tuple(estimates.get(channel.name, ())),
            lit_s=lit_s,
            until_s=until_s,
            to_s=to_s,
            silences=tuple(silences.get(channel.name, ())),
            faults=tuple(faults.get(channel.name, ())),
        )
        for letter, channel in with_letters(channels)
    )


def with_letters(channels: Iterable[Channel]) -> list[tuple[str, Channel]]:
    """The temperature channels in the order a reader looks: walls from below, base, room last."""
    shown = sorted(
        (channel for channel in channels if channel.quantity is Quantity.TEMPERATURE),
        key=reading_order,
    )
    return [(_letter(number), channel) for number, channel in enumerate(shown)]


def _series(
    letter: str,
    channel: Channel,
    estimates: tuple[Estimate, ...],
    *,
    lit_s: float,
    until_s: float,
    to_s: float,
    silences: tuple[Gap, ...],
    faults: tuple[Gap, ...],
) -> Series:
    return Series(
        letter=letter,
        channel=channel,
        estimates=estimates,
        gaps=()
        if channel.by_hand
        else gaps(channel, estimates, from_s=lit_s, to_s=to_s, silences=(*silences, *faults)),
        coverage=cover(
            channel, estimates, from_s=lit_s, to_s=until_s, silences=silences, faults=faults
        ),
    )


def rooms_of(series: Iterable[Series]) -> Rooms:
    """The room as all its channels saw it."""
    return Rooms(
        estimate
        for one in series
        if one.place.position is Position.ROOM
        for estimate in one.estimates
    )


def evidence(
    burn: Burn,
    limits: Limits,
    series: Sequence[Series],
    events: Iterable[Event],
    until_s: float,
    *,
    calibrations: Mapping[str, Calibration] | None = None,
    looks: tuple[Observed, ...] = (),
    criteria: tuple[CriterionValue, ...] = (),
) -> BurnEvidence:
    """What the criteria judge; `calibrations` are those in force."""
    on_vessel = [one for one in series if one.channel.on_vessel]
    limit_c = limits.of(burn.material).limit_c
    crossed = [
        found
        for one in on_vessel
        if (found := crossing(one.channel, one.estimates, limit_c, faults=one.coverage.faults))
    ]
    of_alarms = [event for event in events if isinstance(event, AlarmEvent)]
    answered = {event.alarm.key for event in of_alarms if event.what == AlarmEventKind.ACKNOWLEDGED}
    return BurnEvidence(
        burn=burn,
        limits=limits,
        until_s=until_s,
        coverage=tuple(one.coverage for one in series),
        crossing=max(crossed, key=lambda one: one.value_c, default=None),
        warmest=rooms_of(series).warmest(e for one in on_vessel for e in one.estimates),
        calibrations=calibrations or {},
        looks=looks,
        criteria=criteria,
        alarms=tuple(
            Raised(
                rule=event.alarm.finding.rule,
                subject=event.alarm.finding.channel or event.alarm.finding.station or "",
                at_s=event.time_s,
                answered=event.alarm.key in answered,
            )
            for event in of_alarms
            if event.what in RAISED
            and not _mistaken(event.alarm.finding, series, limits.of(burn.material))
        ),
    )


def _mistaken(finding: Finding, series: Sequence[Series], wall: WallLimits) -> bool:
    """Whether only a reading by hand raised it which was wrong: none that counts reaches it."""
    if finding.rule not in (Rule.WALL_ALERT, Rule.WALL_LIMIT) or "-hand-" not in finding.subject:
        return False
    line_c = wall.alert_c if finding.rule == Rule.WALL_ALERT else wall.limit_c
    here = (one for one in series if one.by_hand and one.channel.name == finding.subject)
    return not any(
        seen.upper_c > line_c
        for one in here
        for estimate in one.estimates
        if (seen := measured(estimate, one.place)) is not None
    )


def reading_order(channel: Channel) -> tuple[int, float, int, str]:
    """Walls from below, then rim, base and so on, the room last."""
    place = channel.place
    return (_ORDER.index(place.position), place.height_mm or 0.0, place.clock or 0, channel.name)


def _letter(number: int) -> str:
    """A to Z, then A1, B1, ..."""
    turn, place = divmod(number, 26)
    return string.ascii_uppercase[place] + (str(turn) if turn else "")
