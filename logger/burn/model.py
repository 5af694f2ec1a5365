"""A burn: from lighting to extinguishing, and the hottest place that was measured meanwhile."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from logger.burn.entries import Danger, Emergency, InSight, Lit, Note, Observed, Out, Photographed
from logger.burn.expected import Expected
from logger.burn.limits import Limits, Material
from logger.burn.link_record import LinkRecord
from logger.burn.look import AFTER_OUT, WHILE_LIT, YES
from logger.burn.stated import ADVISED_NEXT_TIME, BLOWN_OUT, Circumstances, Ending
from logger.burn.trials import name_key
from logger.errors import Refused
from logger.field_table import filled
from logger.quantities import Estimate, Place

LONGEST_AGO_S = 31 * 86_400.0  # a lighting entered later is a slip of the keys (our choice)
MOST_DIGITS = 9  # of a burn's number: a bench lights some hundreds a year
FALLEN_K = 5.0  # a wall that has fallen by this is that of a candle that is out: our choice


class BurnPhase(StrEnum):
    """Where a station is; lit and out are what a person last confirmed, no sensor sees a flame."""

    LIT = "lit"
    COOLING = "cooling"  # out, and the wall or the wax has not had time to cool
    COLD = "cold"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hottest:
    """The highest estimate of the hottest measured place; never just 'the hottest'."""

    channel: str
    place: Place
    value_c: float
    standard_uncertainty_c: float
    at_s: float
    accuracy_assumed: bool = False

    @property
    def upper_c(self) -> float:
        """Value plus expanded uncertainty, k = 2."""
        return self.value_c + 2.0 * self.standard_uncertainty_c

    @property
    def lower_c(self) -> float:
        """Value minus expanded uncertainty, k = 2."""
        return self.value_c - 2.0 * self.standard_uncertainty_c


def measured(estimate: Estimate, place: Place) -> Hottest | None:
    """`estimate` as a candidate for the hottest measured place; None while it has no figure."""
    if estimate.value is None or estimate.standard_uncertainty is None:
        return None
    return Hottest(
        channel=estimate.channel,
        place=place,
        value_c=estimate.value,
        standard_uncertainty_c=estimate.standard_uncertainty,
        at_s=estimate.at_s,
        accuracy_assumed=estimate.accuracy_assumed,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """One burn of one candle; `id` is the station and the Unix second of lighting."""

    id: str
    station: str
    trial: str
    lit_s: float
    number: int | None = None  # of the bench, 1 is its first; None where no bench counts it
    tester: str = ""
    watched_by: str = ""
    out_s: float | None = None
    vessel: str = ""  # its record's name, where the tester's or trial's names one
    wick: str = ""  # so the wick of the trial's wicking
    shared_pour: bool = False  # its tester serves several wicks in turn
    inner_diameter_mm: float | None = None  # of that vessel at the fill line
    reason: str = ""  # why it was lit though its vessel was not cleared
    lacks: tuple[str, ...] = ()  # what a disk that did not answer in time left out of it
    circumstances: Circumstances = Circumstances()  # as they were stated; so the ending
    ending: Ending = Ending()
    hand_kept: str = ""  # the table it came in from: nobody watched it here
    material: Material | None = None
    limits: Limits | None = None  # in force when it was lit
    hottest: Hottest | None = None  # by value
    least_margin: Hottest | None = None  # by value plus expanded uncertainty
    # The same by instruments alone: a reading by hand may turn out to be of another jar.
    hottest_sensed: Hottest | None = None
    least_margin_sensed: Hottest | None = None
    danger: Danger | None = None
    danger_over: bool = False  # a person has seen it out since
    checks: tuple[str, ...] | None = None  # confirmed before lighting; None: not asked
    mass_before_g: float | None = None  # of the whole candle, cold; so after
    mass_after_g: float | None = None
    wax_g: float | None = None  # that it was poured with
    in_sight_s: float | None = None  # when a person last said who watches, or took a photo
    read_s: float | None = None  # when a person last read a place of it by hand
    asked_s: float | None = None  # when it was last asked who watches
    sides_told_s: float | None = None  # when it was told that its sides differ
    rested_s: float | None = None  # since the candle before it on this station was out
    out_wall_c: float | None = None  # hottest measured place when it was recorded out
    cooled: bool = False  # after out: the wall has fallen, so it is out indeed
    wax_solid: bool | None = None  # after out, as a person saw it last
    wax_level_mm: float | None = None  # top of the wax above the base, as it was seen last
    looked_s: tuple[float, ...] = ()  # when a person looked at it, in order
    links: tuple[LinkRecord, ...] = ()  # of instruments that tell signal or battery, or reconnected
    withdrawn: bool = False  # its lighting was recorded by mistake: there was no such burn
    # By channel: what its forecasts started from, and what the candle's next burn starts from.
    expected: Mapping[str, Expected] = field(default_factory=dict)
    learned: Mapping[str, Expected] = field(default_factory=dict)

    @property
    def short_id(self) -> str:
        """What people type for it, and read: its number, or its id where it has none."""
        return self.id if self.number is None else str(self.number)

    @property
    def candle(self) -> tuple[str, str]:
        """Trial and code on the vessel; the station stands in where there is no code.

        A shared pour is one candle in all its trials.
        """
        trial = "" if self.shared_pour else self.trial
        return trial, name_key(self.tester) or self.station

    @property
    def lit(self) -> bool:
        """Whether a person has not yet recorded it out."""
        return self.out_s is None

    @property
    def may_burn(self) -> bool:
        """Whether it is lit, or was recorded out and no wall has shown it yet."""
        return self.out_s is None or not self.cooled

    @property
    def in_danger(self) -> bool:
        """Whether an emergency was reported and nobody has seen the candle out since."""
        return self.danger is not None and not self.danger_over

    def longest_s(self, limits: Limits) -> float:
        """How long it may burn: to the planned length, and never past the maker's longest burn."""
        planned_s = self.circumstances.planned_length_s
        if planned_s is None:
            return limits.burn_length_s
        return min(planned_s, limits.burn_length_s)

    def elapsed_s(self, now_s: float) -> float:
        """Burning time so far, or the whole once it is out."""
        return (now_s if self.out_s is None else self.out_s) - self.lit_s

    def with_wall(self, hottest_c: float | None, *, watched: bool) -> "Burn":
        """After out, with the hottest measured place now: has the wall fallen?

        Where no instrument watches it (`watched`), or none saw it at out, there is nothing to
        wait for; one that has fallen silent since may yet show it.
        """
        if self.out_s is None or self.cooled:
            return self
        if hottest_c is None:
            waits = watched and self.out_wall_c is not None
            return self if waits else replace(self, cooled=True)
        if self.out_wall_c is None:
            return replace(self, out_wall_c=hottest_c)
        return replace(self, cooled=True) if hottest_c <= self.out_wall_c - FALLEN_K else self

    def with_estimate(self, estimate: Estimate, place: Place, *, by_hand: bool = False) -> "Burn":
        """The burn after one more good estimate of a place on its vessel."""
        seen = measured(estimate, place)
        if seen is None:
            return self
        hottest = _hotter(self.hottest, seen)
        least_margin = _tighter(self.least_margin, seen)
        sensed, margin_sensed = self.hottest_sensed, self.least_margin_sensed
        if not by_hand:
            sensed, margin_sensed = _hotter(sensed, seen), _tighter(margin_sensed, seen)
        if not any(one is seen for one in (hottest, least_margin, sensed, margin_sensed)):
            return self
        return replace(
            self,
            hottest=hottest,
            least_margin=least_margin,
            hottest_sensed=sensed,
            least_margin_sensed=margin_sensed,
        )

    def without_hand(self) -> "Burn":
        """The burn as instruments alone measured it."""
        return replace(
            self, hottest=self.hottest_sensed, least_margin=self.least_margin_sensed, read_s=None
        )

    @property
    def before_eyes_s(self) -> float:
        """When a person last had it before them: said so, looked at it or read a place."""
        return max(self.lit_s, self.in_sight_s or 0.0, self.read_s or 0.0, *self.looked_s)


def _hotter(known: Hottest | None, seen: Hottest) -> Hottest:
    return seen if known is None or seen.value_c > known.value_c else known


def _tighter(known: Hottest | None, seen: Hottest) -> Hottest:
    return seen if known is None or seen.upper_c > known.upper_c else known


class BurnEventKind(StrEnum):
    """What happens in a burn."""

    LIT = "lit"
    OUT = "out"
    NOTE = "note"
    LOOKED = "looked"
    PHOTOGRAPHED = "photographed"
    WEIGHED = "weighed"
    MOVED = "moved"
    CORRECTED = "corrected"
    WITHDRAWN = "withdrawn"
    IN_SIGHT = "in-sight"
    EMERGENCY = "emergency"
    CALIBRATED = "calibrated"
    WHO_WATCHES = "who-watches"
    WATCH_RESUMED = "watch-resumed"
    WATCH_ENDED = "watch-ended"
    SIDES_DIFFER = "sides-differ"


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnEvent:
    """Something a person did in a burn, or that was found in it."""

    id: str
    time_s: float  # when it was known
    since_s: float  # when it happened
    station: str
    burn: str
    event: BurnEventKind
    text: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnStatus:
    """A station now, for pages and phones."""

    at_s: float
    station: str
    phase: BurnPhase
    burn: str | None
    number: int | None  # of that burn
    trial: str | None
    lit_s: float | None
    out_s: float | None
    elapsed_s: float | None
    remaining_s: float | None  # to the longest burn; below zero when over
    limit_c: float
    alert_c: float
    hottest: Hottest | None  # now, not of the whole burn
    margin_c: float | None  # limit minus its value plus expanded uncertainty
    automatic: bool  # whether any instrument reads this vessel: without one nothing will warn


def number_in(text: str) -> int | None:
    """The number that a person typed for a burn; None where it is an id."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS else None


def light(
    entry: Lit, material: Material | None, limits: Limits, before: Burn | None = None
) -> Burn:
    """The burn that begins with `entry`, after `before` on the same station.

    Raises Refused where no trial is named, the one before was not out by then, or it is too long
    ago to be remembered.
    """
    if entry.entered_s - entry.at_s > LONGEST_AGO_S and not entry.hand_kept:
        raise Refused(
            f"{entry.station} lit over {LONGEST_AGO_S / 86_400.0:.0f} days ago? Give the time at "
            "which this burn was lit"
        )
    if before is not None and before.out_s is None:
        raise Refused(
            f"{entry.station} is already lit, as a burn of {before.trial}: "
            "record it out before it is lit again"
        )
    if before is not None and before.out_s is not None and entry.at_s < before.out_s + 1.0:
        raise Refused(f"{entry.station} was not yet out at that time: give a later one")
    if not entry.trial:
        raise Refused("name the trial this burn belongs to; a new name makes a new trial")
    return Burn(
        id=f"{entry.station}-{int(entry.at_s)}",
        station=entry.station,
        trial=entry.trial,
        tester=entry.tester,
        watched_by=entry.watched_by,
        checks=entry.checks,
        lit_s=entry.at_s,
        vessel=entry.vessel,
        wick=entry.wick,
        shared_pour=entry.shared_pour,
        inner_diameter_mm=entry.inner_diameter_mm,
        reason=entry.reason,
        lacks=entry.lacks,
        circumstances=entry.stated,
        hand_kept=entry.hand_kept,
        material=entry.material or material,
        limits=limits,
        mass_before_g=entry.mass_g,
        wax_g=entry.wax_g,
        in_sight_s=entry.at_s,
        expected=entry.expected,
        rested_s=None if before is None or before.out_s is None else entry.at_s - before.out_s,
    )


def see(
    burn: Burn, entry: Out | Note | Photographed | Emergency | InSight
) -> tuple[Burn, BurnEventKind, str]:
    """The burn after what a person did or saw, the event's name, and a line that says it."""
    match entry:
        case Out():
            if entry.at_s < burn.lit_s and entry.at_s < entry.entered_s:
                raise Refused(f"{burn.station} was not yet lit at that time: give a later one")
            if burn.out_s is None:
                # Seen out now, by a clock that has been set back since: it is out all the same.
                out_s = max(entry.at_s, burn.lit_s)
                after = replace(burn, out_s=out_s, danger_over=True, ending=entry.stated)
                return after, BurnEventKind.OUT, f"{burn.station}: recorded out{_ending(entry)}"
            if not burn.in_danger:
                raise Refused(f"{burn.station} is already recorded out")
            ending = entry.stated if entry.stated.words else burn.ending
            after = replace(burn, danger_over=True, ending=ending)
            return after, BurnEventKind.OUT, f"{burn.station}: recorded out again{_ending(entry)}"
        case Note():
            return burn, BurnEventKind.NOTE, f"{burn.station}: {entry.text}"
        case Photographed():
            said = f": {entry.text}" if entry.text else ""
            if entry.at_candle:
                burn = replace(burn, in_sight_s=max(entry.at_s, burn.in_sight_s or 0.0))
            return burn, BurnEventKind.PHOTOGRAPHED, f"{burn.station}: photo{said}"
        case Emergency():
            text = f"{burn.station}: EMERGENCY reported, {entry.what.words} {entry.text}".rstrip()
            after = replace(burn, danger=entry.what, danger_over=False)
            if burn.out_s is not None:  # it may burn again: its wall is watched as after lighting
                after = replace(after, cooled=False, out_wall_c=None)
            return after, BurnEventKind.EMERGENCY, text
        case InSight():
            text = f"{burn.station}: in sight of {entry.by or 'a person'}"
            who = entry.by or burn.watched_by
            after = replace(burn, in_sight_s=entry.at_s, watched_by=who)
            return after, BurnEventKind.IN_SIGHT, text


def _ending(entry: Out) -> str:
    words = f", {entry.stated.words}" if entry.stated.words else ""
    advice = f". {ADVISED_NEXT_TIME}" if entry.stated.how == BLOWN_OUT else ""
    return words + advice


def look(burn: Burn, entry: Observed) -> Burn:
    """The burn after a person looked at it. Raises Refused for what could not be seen then."""
    if entry.at_s < burn.lit_s:
        raise Refused(f"{burn.station} was not yet lit at that time: give a later one")
    out = burn.out_s is not None and entry.at_s >= burn.out_s
    told = "was out by then: give the time at which it still burned"
    if not out:
        told = "still burned at that time: record it out first, or give a later time"
    alien = [
        field.label
        for field, _ in filled(entry.look)
        if field.attribute in (WHILE_LIT if out else AFTER_OUT)
    ]
    if alien:
        raise Refused(f"{', '.join(alien)}: {burn.station} {told}")
    if entry.at_s >= max(burn.looked_s, default=burn.lit_s):  # not one that was typed late
        solid, level_mm = entry.look.wax_solid, entry.look.wax_level_mm
        burn = replace(
            burn,
            wax_solid=solid == YES if solid else burn.wax_solid,
            wax_level_mm=burn.wax_level_mm if level_mm is None else level_mm,
        )
    return replace(burn, looked_s=tuple(sorted((*burn.looked_s, entry.at_s))))
