"""What is known of a burn when it is judged: the burn, its alarms, and what was not measured."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from logger.burn.entries import Observed
from logger.burn.heat import InWarmestRoom
from logger.burn.limits import CriterionValue, Limits
from logger.burn.model import Burn, Hottest, measured
from logger.conditioning.calibration import Calibration
from logger.quantities import Channel, Estimate, Position, Quality, Quantity, Rule

# How much may be missing of a place on the vessel before the burn cannot pass. Ours, no source:
# a 3 mm glass wall by itself follows with a time constant of some 445 s (k, cp and density of
# soda-lime glass, film coefficients of 6 W/m2K each for convection and radiation), so a peak that
# rises and falls within five minutes unseen would be mostly smoothed away.
LONGEST_GAP_S = 300.0
LEAST_SHARE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A time without a good estimate."""

    from_s: float
    to_s: float

    @property
    def length_s(self) -> float:
        """How long."""
        return self.to_s - self.from_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How well one channel was measured from lighting to out, or so far."""

    channel: Channel
    measured: bool  # there is at least one good estimate
    share: float  # of the burn with good estimates, 0..1; 0 by hand
    gaps: tuple[Gap, ...]  # none by hand: there is nothing but gaps
    faults: tuple[Gap, ...] = ()  # of these, when its sensor was at fault
    first: Estimate | None = None  # of the good ones
    last: Estimate | None = None
    lowest: Estimate | None = None
    highest: Estimate | None = None
    doubtful: Estimate | None = None  # the highest of those that were not good
    readings: tuple[Estimate, ...] = ()  # by hand: the good ones, in order of time

    @property
    def by_hand(self) -> bool:
        """Whether a person reads it now and then, which says nothing of the time between."""
        return self.channel.by_hand

    @property
    def longest_gap_s(self) -> float:
        """The longest time without a good estimate."""
        return max((gap.length_s for gap in self.gaps), default=0.0)

    @property
    def missing_s(self) -> float:
        """All time without a good estimate."""
        return sum(gap.length_s for gap in self.gaps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """An alarm that was raised in a burn."""

    rule: Rule
    subject: str
    at_s: float
    answered: bool = False  # a person acknowledged it, then or later


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnEvidence:
    """All that a burn is judged on; `until_s` is out, or now for one that still burns."""

    burn: Burn
    limits: Limits  # in force when it was lit
    until_s: float
    coverage: tuple[Coverage, ...] = ()
    alarms: tuple[Raised, ...] = ()
    crossing: Hottest | None = None  # beyond doubt over the limit, see `crossing`
    warmest: InWarmestRoom | None = None  # what it all means for the warmest room
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)  # in force, by channel
    looks: tuple[Observed, ...] = ()  # at the candle, as they count
    criteria: tuple[CriterionValue, ...] = ()  # figures that criteria ask for

    @property
    def on_vessel(self) -> tuple[Coverage, ...]:
        """The places on the outside of the vessel."""
        return tuple(seen for seen in self.coverage if seen.channel.on_vessel)

    @property
    def automatic(self) -> tuple[Coverage, ...]:
        """Those of them that an instrument read."""
        return tuple(seen for seen in self.on_vessel if not seen.by_hand)

    @property
    def rooms(self) -> tuple[Coverage, ...]:
        """Those that measured the room's temperature."""
        return tuple(
            seen
            for seen in self.coverage
            if seen.channel.place.position is Position.ROOM
            and seen.channel.quantity is Quantity.TEMPERATURE
            and seen.measured
        )


def allowed_spacing_s(channel: Channel) -> float:
    """Estimates farther apart than this leave a gap: three of the channel's own steps."""
    return 3.0 * max(channel.averaging.every_s, 1.0)


def gaps(
    channel: Channel,
    estimates: Iterable[Estimate],
    *,
    from_s: float,
    to_s: float,
    silences: Iterable[Gap] = (),
) -> tuple[Gap, ...]:
    """The times in [from_s, to_s] without a good estimate of `channel`, in order.

    `estimates` are in order of time. Two good ones apart by more than `allowed_spacing_s` leave a
    gap, and so does either end. `silences` are times in which its instrument was silent: a running
    estimate carries a value on for a while, but nothing was measured.
    """
    good_s = [e.at_s for e in estimates if e.quality is Quality.GOOD and from_s <= e.at_s <= to_s]
    return gaps_between(channel, good_s, from_s=from_s, to_s=to_s, silences=silences)


def gaps_between(
    channel: Channel,
    good_s: Sequence[float],
    *,
    from_s: float,
    to_s: float,
    silences: Iterable[Gap],
) -> tuple[Gap, ...]:
    """As `gaps`, of the times of good estimates in [from_s, to_s]."""
    silences = [_clipped(gap, from_s, to_s) for gap in silences]
    found = [gap for gap in silences if gap.length_s > 0.0]
    allowed_s = allowed_spacing_s(channel)
    found += [
        Gap(from_s=last_s, to_s=at_s)
        for last_s, at_s in pairwise((from_s, *good_s, to_s))
        if at_s - last_s > allowed_s
    ]
    return merged(found)


HELD_S = 60.0
"""How long a place must stay over the limit, with its uncertainty, before that is beyond doubt.

Ours: of thousands of estimates in a burn the highest is high by chance, by three or four of its own
standard deviations; one that two averaging windows bear out is not.
"""


def crossing(
    channel: Channel, estimates: Iterable[Estimate], limit_c: float, *, faults: Iterable[Gap] = ()
) -> Hottest | None:
    """The highest of the good estimates that are beyond doubt over `limit_c`; None: none is.

    Value minus expanded uncertainty (k = 2) must be over the limit for `HELD_S` without a gap; of a
    place read by hand once, since a person's few readings have no highest by chance.
    """
    faults = tuple(faults)
    found: Hottest | None = None
    highest: Hottest | None = None  # of the present stretch
    began_s = last_s = 0.0  # of it
    for estimate in estimates:
        value_c = estimate.value  # most are below the limit, and told by this alone
        seen = None if value_c is None or value_c <= limit_c else measured(estimate, channel.place)
        if (
            seen is None
            or estimate.quality is not Quality.GOOD
            or seen.lower_c <= limit_c
            or any(gap.from_s <= seen.at_s <= gap.to_s for gap in faults)
        ):
            highest = None
            continue
        if highest is None or seen.at_s - last_s > allowed_spacing_s(channel):
            highest, began_s = seen, seen.at_s
        last_s = seen.at_s
        highest = max(highest, seen, key=lambda one: one.value_c)
        held = channel.by_hand or seen.at_s - began_s >= HELD_S
        if held and (found is None or highest.value_c > found.value_c):
            found = highest
    return found


def merged(found: Iterable[Gap]) -> tuple[Gap, ...]:
    """Gaps in order, those that touch made one."""
    whole: list[Gap] = []
    for gap in sorted(found, key=lambda gap: gap.from_s):
        if whole and gap.from_s <= whole[-1].to_s:
            last = whole.pop()
            gap = Gap(from_s=last.from_s, to_s=max(last.to_s, gap.to_s))  # noqa: PLW2901
        whole.append(gap)
    return tuple(whole)


def cover(
    channel: Channel,
    estimates: Iterable[Estimate],
    *,
    from_s: float,
    to_s: float,
    silences: Iterable[Gap] = (),
    faults: Iterable[Gap] = (),
) -> Coverage:
    """How well `channel` was measured in [from_s, to_s]; see `gaps`.

    What its sensor sent while it was at fault (`faults`) was not measured either.
    """
    faults = merged(gap for one in faults if (gap := _clipped(one, from_s, to_s)).length_s > 0.0)
    here = [e for e in estimates if from_s <= e.at_s <= to_s]
    good = [e for e in here if e.quality is Quality.GOOD]
    doubtful = max(
        (e for e in here if e.quality is Quality.DOUBTFUL and e.value is not None),
        key=lambda e: e.value or 0.0,
        default=None,
    )
    if channel.by_hand:
        return Coverage(
            channel=channel,
            measured=bool(good),
            share=0.0,
            gaps=(),
            lowest=min(good, key=lambda e: e.value or 0.0, default=None),
            highest=max(good, key=lambda e: e.value or 0.0, default=None),
            doubtful=doubtful,
            readings=tuple(good),
        )
    good = [e for e in good if not any(gap.from_s <= e.at_s <= gap.to_s for gap in faults)]
    missing = gaps(channel, good, from_s=from_s, to_s=to_s, silences=(*silences, *faults))
    whole_s = to_s - from_s
    missing_s = sum(gap.length_s for gap in missing)
    valued = [e for e in good if e.value is not None]
    return Coverage(
        channel=channel,
        measured=bool(good),
        share=1.0 - missing_s / whole_s if good and whole_s > 0.0 else 0.0,
        gaps=missing,
        faults=faults,
        first=valued[0] if valued else None,
        last=valued[-1] if valued else None,
        lowest=min(valued, key=lambda e: e.value or 0.0, default=None),
        highest=max(valued, key=lambda e: e.value or 0.0, default=None),
        doubtful=doubtful,
    )


def _clipped(gap: Gap, from_s: float, to_s: float) -> Gap:
    return Gap(from_s=max(gap.from_s, from_s), to_s=min(gap.to_s, to_s))
