"""[pure] What the page of a station says: how hot, how far, how long, and what to do."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.alarms.foresight import ahead
from logger.alarms.lifecycle import Alarm, AlarmState, Priority
from logger.announcements import parts, then
from logger.burn import safety
from logger.burn.cool_down import lit_again_s
from logger.burn.coverage import at_the_wax, never_measured, wall_coverage
from logger.burn.evidence import Coverage
from logger.burn.limits import WallLimits
from logger.burn.marks import BurnMark, MarkState, due_mark
from logger.burn.model import Burn, BurnPhase, BurnStatus
from logger.burn.status import hottest_now
from logger.quantities import Estimate, Quality, Rule
from logger.web import views
from logger.web.ahead import Coming, coming, marks_of, to_weigh
from logger.web.bench_service import BenchService
from logger.web.place_views import PlaceView, place_view
from logger.web.round_due import due_s, due_words
from logger.words import Words, duration

WALL = (Rule.WALL_ALERT, Rule.WALL_LIMIT)
PAST_S = 60.0  # what raised a wall's alarm so long ago is told as what was (our choice)
NO_WATCH = "No automatic watch: nothing will warn you"


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmGroup:
    """Alarms of one rule in one state: a pulled plug silences many places and is one errand."""

    alarms: tuple[Alarm, ...]
    says: str  # of the first: what is so and what to do, or what was so a while ago
    now: str  # what is so at this moment, where that differs

    @property
    def first(self) -> Alarm:
        """The one that stands for all: the earliest."""
        return self.alarms[0]

    @property
    def key(self) -> str:
        """Names the group on the page."""
        finding = self.first.finding
        return f"{finding.rule} {finding.station} {finding.priority} {self.first.state}"

    @property
    def version(self) -> str:
        """Changes with anything that is shown but `now`."""
        return " ".join([*(f"{alarm.key}#{alarm.count}" for alarm in self.alarms), self.says])

    @property
    def open(self) -> bool:
        """Whether somebody must still acknowledge it."""
        return self.first.state is AlarmState.UNACKNOWLEDGED

    @property
    def may_be_shelved(self) -> bool:
        """Whether it may be set aside for a while."""
        return self.first.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED) and (
            self.first.finding.priority in (Priority.NOTICE, Priority.CAUTION)
        )

    @property
    def words(self) -> str:
        """The state as a person says it."""
        first = self.first
        by = f" by {first.acknowledged_by}" if first.acknowledged_by else ""
        by += f" ({first.acknowledged_where})" if first.acknowledged_where else ""
        return {
            AlarmState.UNACKNOWLEDGED: "not acknowledged",
            AlarmState.ACKNOWLEDGED: f"acknowledged{by}",
            AlarmState.RETURNED_UNACKNOWLEDGED: "over; not acknowledged",
            AlarmState.SHELVED: "set aside for a while",
            AlarmState.NORMAL: "over",
        }[first.state]


@dataclass(frozen=True, slots=True, kw_only=True)
class StationView:
    """A station as its page shows it."""

    status: BurnStatus
    burn: Burn | None
    wall: WallLimits
    limit: str  # in the display unit
    alert: str
    places: tuple[PlaceView, ...]
    hottest: PlaceView | None
    coming: tuple[Coming, ...]
    lit_again_s: float | None  # from when, the wax being solid; None while it burns
    marks: tuple[BurnMark, ...]  # at which somebody looks at it
    watched: bool  # whether an instrument reads the vessel now
    round_due: str  # the countdown to the next reading round; empty: none is due

    @property
    def name(self) -> str:
        """The station's."""
        return self.status.station

    @property
    def unconfirmed(self) -> tuple[str, ...]:
        """The checks before lighting that nobody confirmed; none where not asked."""
        checks = None if self.burn is None else self.burn.checks
        return () if checks is None else safety.unconfirmed(checks)

    @property
    def lit(self) -> bool:
        """As a person last confirmed it."""
        return self.status.phase is BurnPhase.LIT

    @property
    def due_mark(self) -> BurnMark | None:
        """The mark at which somebody should look now."""
        return due_mark(self.marks)

    @property
    def next_mark(self) -> BurnMark | None:
        """That mark, or the next to come."""
        ahead = (one for one in self.marks if one.state is MarkState.AHEAD)
        return (self.due_mark or next(ahead, None)) if self.lit else None

    @property
    def unread(self) -> int:
        """Places of the vessel that say nothing of now."""
        return sum(one.channel.on_vessel and not one.present for one in self.places)

    @property
    def texts(self) -> dict[str, str]:
        """What stands on the page, by the name of its field there."""
        hot, status, on_vessel = self.hottest, self.status, self.on_vessel
        unread = f"{self.unread} of {len(on_vessel)} places give no reading now"
        left_s = status.remaining_s or 0.0
        return {
            "hot-value": hot.value if hot else "no reading",
            "hot-spread": hot.spread if hot else "",
            "hot-place": hot.words if hot else "no place on the vessel gives a reading now",
            "hot-margin": hot.margin_words if hot else "",
            "unread": f"{unread}: it may be hotter there." if self.unread else "",
            "remaining": duration(abs(left_s)),
            "remaining-word": "left" if left_s > 0.0 else "too long",
            "elapsed": duration(status.elapsed_s or 0.0),
            "mark-in": self._mark_in,
            "round": self.round_due,
        }

    @property
    def _mark_in(self) -> str:
        if self.next_mark is None:
            return ""
        ahead_s = self.next_mark.mark_s - (self.status.elapsed_s or 0.0)
        return f"in {duration(ahead_s)}" if ahead_s > 0.0 else "now"

    def gauge_x(self, value_c: float) -> str:
        """Where a temperature is on the gauge, from 40 K under the limit to 5 K over it."""
        x = 320.0 + 8.0 * (value_c - self.wall.limit_c)
        return f"{min(360.0, max(0.0, x)):.1f}"

    @property
    def pointer(self) -> str:
        """How the gauge's pointer is moved: beside it where nothing is measured."""
        upper_c = None if self.hottest is None else self.hottest.upper_c
        return f"translate({'-40' if upper_c is None else self.gauge_x(upper_c)} 0)"

    @property
    def on_vessel(self) -> tuple[PlaceView, ...]:
        """Places where the limit stands."""
        return tuple(one for one in self.places if one.channel.on_vessel)

    @property
    def others(self) -> tuple[PlaceView, ...]:
        """Room, melt pool and whatever else is measured here."""
        return tuple(one for one in self.places if not one.channel.on_vessel)


def statuses(bench: BenchService) -> list[BurnStatus]:
    """Every station now, in the order of the configuration; before the first tick, none."""
    known = bench.hub.statuses
    return [known[one.name] for one in bench.settings.stations if one.name in known]


def station_view(bench: BenchService, status: BurnStatus, now_s: float) -> StationView:
    """The page's view of one station."""
    words = bench.settings.words
    wall = WallLimits(alert_c=status.alert_c, limit_c=status.limit_c)
    channels = [one for one in views.channels(bench) if one.station in (status.station, None)]
    places = tuple(
        place_view(
            one,
            bench.hub.estimates.get(one.name),
            wall if one.station == status.station else None,
            words,
            now_s,
        )
        for one in channels
    )
    burn = bench.hub.burns.get(status.station)
    again_s = None if burn is None else lit_again_s(burn, bench.settings.limits)
    return StationView(
        status=status,
        burn=burn,
        wall=wall,
        limit=words.temperature(wall.limit_c),
        alert=words.temperature(wall.alert_c),
        places=places,
        hottest=_hottest(places, now_s),
        coming=coming(bench, status, burn, again_s, now_s),
        lit_again_s=again_s,
        marks=marks_of(bench, burn, now_s),
        watched=any(one.channel.on_vessel and not one.by_hand and one.present for one in places),
        round_due=due_words(due_s(bench, status), now_s),
    )


def uncovered(view: StationView, words: Words) -> str:
    """What of the wall nobody measured since lighting; empty: nothing, or unknown."""
    found = wall_coverage(
        (
            Coverage(channel=one.channel, measured=_measured(one, view.status), share=0.0, gaps=())
            for one in view.places
        ),
        words.length_in,
    )
    return "" if found is None else never_measured(found, words)


def at_wax(view: StationView, words: Words) -> str:
    """Where to measure at the level of the wax; empty: nobody said where that is."""
    level_mm = None if view.burn is None else view.burn.wax_level_mm
    channels = (one.channel for one in view.places)
    return "" if level_mm is None else at_the_wax(level_mm, channels, words)


def _measured(place: PlaceView, status: BurnStatus) -> bool:
    estimate = place.estimate
    return (
        estimate is not None
        and estimate.value is not None
        and status.lit_s is not None
        and estimate.at_s >= status.lit_s
    )


def _hottest(places: Sequence[PlaceView], now_s: float) -> PlaceView | None:
    """The hottest measured place; only those for which a limit stands are on the vessel."""
    on_vessel = {one.channel.name: one for one in places if one.upper_c is not None}
    known = [(one.channel, one.estimate) for one in on_vessel.values() if one.estimate is not None]
    hottest = hottest_now(known, now_s)
    return None if hottest is None else on_vessel[hottest.channel]


def alarm_groups(bench: BenchService, here: str = "") -> list[AlarmGroup]:
    """Alarms that stand, in the order of what to do: those of the station `here` first, then what
    waits for a person, then the gravest. Stations are never grouped together.
    """
    alike: dict[tuple[object, ...], list[Alarm]] = {}
    for alarm in sorted(bench.hub.alarms.values(), key=lambda one: one.since_s):
        if alarm.active and alarm.state is not AlarmState.RETURNED_UNACKNOWLEDGED:
            finding = alarm.finding
            key = (finding.rule, finding.station, finding.priority, alarm.state)
            alike.setdefault(key, []).append(alarm)
    groups = [_group(bench, tuple(alarms)) for alarms in alike.values()]
    return sorted(
        groups,
        key=lambda one: (
            bool(here) and one.first.finding.station not in (here, None),
            not one.open,
            -one.first.finding.priority.rank,
        ),
    )


def _group(bench: BenchService, alarms: tuple[Alarm, ...]) -> AlarmGroup:
    first, now_s = alarms[0], bench.now_s()
    finding, says, now = first.finding, first.finding.text, ""
    channel = finding.channel or ""
    estimate = bench.hub.estimates.get(channel)
    if finding.rule == Rule.WALL_FORECAST:
        latest = bench.hub.forecasts.get(channel)
        newer = latest is not None and latest.at_s >= first.since_s
        expected_s = latest.crosses_s if latest is not None and newer else finding.expected_s
        now = "" if expected_s is None else f"{ahead(expected_s, now_s).capitalize()}."
    elif finding.rule in WALL and estimate is not None and now_s - first.since_s >= PAST_S:
        words = bench.settings.words
        says = f"{finding.station}: {then(first, words)}. {parts(finding)[1]}"
        now = _now(estimate, words)
    return AlarmGroup(alarms=alarms, says=says, now=now)


def _now(estimate: Estimate, words: Words) -> str:
    if estimate.value is None or estimate.quality is Quality.LOST:
        return "Now: no reading."
    now = words.measured(
        estimate.value,
        estimate.standard_uncertainty or 0.0,
        assumed=estimate.accuracy_assumed,
    )
    return f"Now {now}."


def alarms_over(bench: BenchService, here: str = "") -> tuple[Alarm, ...]:
    """Alarms that are over and that nobody has acknowledged, of the station `here` or of all."""
    return tuple(
        alarm
        for alarm in sorted(bench.hub.alarms.values(), key=lambda one: one.since_s)
        if alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
        and (not here or alarm.finding.station in (here, None))
    )


def to_do(view: StationView, alarms: Sequence[AlarmGroup]) -> str:
    """The one sentence of what to do now."""
    status = view.status
    if view.burn is not None and view.burn.danger is not None and view.burn.in_danger:
        return f"{'. '.join(safety.emergency_advice(view.burn.danger))}."
    gravest = next((one for one in alarms if one.open and _concerns(one, view.name)), None)
    if gravest is not None and gravest.first.finding.priority.rank >= Priority.CAUTION.rank:
        return "Go to the candle now; see the alarm above."
    if view.lit:
        left_s = status.remaining_s or 0.0
        if left_s <= 0.0:
            return f"Its time is over: {safety.PUT_OUT}."
        unread = "" if view.watched else " Read the wall by hand and enter it below."
        return f"Stay where you see the candle.{unread}"
    if status.phase is BurnPhase.COOLING:
        return "Leave it where it is until the wax is solid and the vessel cold."
    if view.burn is not None and to_weigh(view.burn):
        return "Cool-down over. If glass and wax are cold, weigh it and record that below."
    return "No burn recorded. If a candle is burning here, record it below."


def _concerns(group: AlarmGroup, station: str) -> bool:
    return any(alarm.finding.station in (station, None) for alarm in group.alarms)
