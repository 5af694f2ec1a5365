"""[pure] What the page of a station says: how hot, how far, how long."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn import safety
from logger.burn.cool_down import lit_again_s
from logger.burn.coverage import WallCoverage, at_the_wax, never_measured, wall_coverage
from logger.burn.evidence import Coverage
from logger.burn.limits import WallLimits
from logger.burn.marks import BurnMark, MarkState, due_mark
from logger.burn.model import Burn, BurnPhase, BurnStatus
from logger.burn.status import hottest_now
from logger.web import views
from logger.web.ahead import Coming, coming, marks_of
from logger.web.bench_service import BenchService
from logger.web.place_views import PlaceView, place_view
from logger.web.round_due import due_s, due_words
from logger.web.texts import gettext as _
from logger.web.wax import SeenWax, wax_seen
from logger.words import Words, duration


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
    round_due_s: float | None  # when its places are to be read by hand; None: no round is due
    round_due: str  # the countdown to it; empty: none is due
    wax: SeenWax

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
        return sum(not (one.present or one.before) for one in self.on_vessel)

    @property
    def texts(self) -> dict[str, str]:
        """What stands on the page, by the name of its field there."""
        hot, status, on_vessel = self.hottest, self.status, self.on_vessel
        unread = _(
            "%(count)s of %(all)s places give no reading now: it may be hotter there.",
            count=self.unread,
            all=len(on_vessel),
        )
        left_s = status.remaining_s or 0.0
        return {
            "hot-value": hot.value if hot else _("no reading"),
            "hot-spread": hot.expanded if hot else "",
            "hot-place": hot.words if hot else _("no place on the vessel gives a reading now"),
            "hot-margin": hot.margin_words if hot else "",
            "unread": unread if self.unread else "",
            "remaining": duration(abs(left_s)),
            "remaining-word": _("left") if left_s > 0.0 else _("too long"),
            "elapsed": duration(status.elapsed_s or 0.0),
            "mark-in": self._mark_in,
            "round": self.round_due,
        }

    @property
    def _mark_in(self) -> str:
        if self.next_mark is None:
            return ""
        ahead_s = self.next_mark.mark_s - (self.status.elapsed_s or 0.0)
        return _("in %(time)s", time=duration(ahead_s)) if ahead_s > 0.0 else _("now")

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
    burn = bench.hub.burns.get(status.station)
    round_s = due_s(bench, status)
    places = tuple(
        place_view(
            one,
            bench.hub.estimates.get(one.name),
            wall if one.station == status.station else None,
            words,
            now_s,
            since_s=status.lit_s if one.station == status.station else None,
        )
        for one in channels
    )
    again_s = None if burn is None else lit_again_s(burn, bench.settings.limits)
    return StationView(
        status=status,
        burn=burn,
        wall=wall,
        limit=words.temperature(wall.limit_c),
        alert=words.temperature(wall.alert_c),
        places=places,
        hottest=_hottest(places, status.lit_s, now_s),
        coming=coming(bench, status, burn, again_s, now_s),
        lit_again_s=again_s,
        marks=marks_of(bench, burn, now_s),
        watched=any(one.channel.on_vessel and not one.by_hand and one.present for one in places),
        round_due_s=round_s,
        round_due=due_words(round_s, now_s),
        wax=wax_seen((line.now for line in bench.entered_at(status.station)), burn, words),
    )


def covered(view: StationView, words: Words) -> WallCoverage | None:
    """Which parts of the wall were measured since lighting; None where that cannot be said."""
    return wall_coverage(
        (
            Coverage(channel=one.channel, measured=_measured(one, view.status), share=0.0, gaps=())
            for one in view.places
        ),
        words.length_in,
    )


def uncovered(found: WallCoverage | None, words: Words) -> str:
    """What of the wall nobody measured since lighting; empty: nothing, or unknown."""
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


def _hottest(places: Sequence[PlaceView], lit_s: float | None, now_s: float) -> PlaceView | None:
    """The hottest measured place; only those for which a limit stands are on the vessel."""
    on_vessel = {one.channel.name: one for one in places if one.upper_c is not None}
    known = [(one.channel, one.estimate) for one in on_vessel.values() if one.estimate is not None]
    hottest = hottest_now(known, now_s, lit_s)
    return None if hottest is None else on_vessel[hottest.channel]
