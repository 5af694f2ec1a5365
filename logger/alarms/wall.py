"""Rules about the temperature of the vessel's wall.

A rule decides on, off, or hold where it is between the two or cannot see: blindness never ends an
alarm. Times of an alarm's life stand in `timings`.
"""

from collections.abc import Sequence
from functools import partial

from logger.alarms.lifecycle import Finding, Priority, Signal, off
from logger.burn.limits import WallLimits
from logger.burn.model import FALLEN_K, Burn
from logger.burn.safety import PUT_OUT
from logger.burn.trace import Trace
from logger.quantities import Channel, Estimate, Quality, Rule
from logger.words import Words, duration

WALL_GAP_K = 1.0  # under the line by this much before a wall alarm returns: common practice

RISE_K_PER_MIN = 2.0  # a settled wall moves by less than 0.5 K/min on the simulated candle
RISE_OVER_S = 120.0
RISE_ARMED_S = 1800.0  # bare glass warms by several K/min at first (common practice) ...
RISE_ARMED_C = 50.0  # ... but not up here

STILL_HOT_S = 1200.0  # after out
STILL_HOT_C = 35.0  # what never was hotter than a hand needs no second look


def may_be_over(estimate: Estimate, limits: WallLimits) -> bool:
    """Whether value plus expanded uncertainty is over either line."""
    upper_c = estimate.upper
    return upper_c is not None and upper_c > min(limits.alert_c, limits.limit_c)


def _over(
    channel: Channel, estimate: Estimate, line_c: float, *, unsure_of_reflected: bool
) -> Signal:
    """Whether value plus expanded uncertainty is over `line_c`.

    What an instrument leaves in doubt raises nothing by itself: the first readings may be of the
    flame, and doubt that lasts has an alarm of its own. A person's reading counts, and so does a
    surface that is doubtful only for what it reflects: of a colder room it is hotter still, and
    what is assumed in its place is in the uncertainty.
    """
    if estimate.upper is None or estimate.quality is Quality.LOST:
        return Signal.HOLD
    heeded = (
        estimate.quality is Quality.GOOD
        or channel.by_hand
        or channel.reflects
        or unsure_of_reflected
    )
    if estimate.upper > line_c:
        return Signal.ON if heeded else Signal.HOLD
    if estimate.upper < line_c - WALL_GAP_K and estimate.quality is Quality.GOOD:
        return Signal.OFF
    return Signal.HOLD


def wall(
    channel: Channel,
    estimate: Estimate,
    limits: WallLimits,
    words: Words,
    *,
    falls: bool = False,
    unsure_of_reflected: bool = False,
) -> tuple[Finding, ...]:
    """`wall-limit` and `wall-alert` of one place on a vessel, which `falls` or not.

    The graver first: while its alarm stands, the other is none (`watch.SUPERSEDED_BY`).

    `unsure_of_reflected`: it is doubtful only because what its surface reflects is not known.
    """
    value_c = estimate.value
    if value_c is None:
        return ()
    return tuple(
        Finding(
            rule=rule,
            subject=channel.name,
            station=channel.station,
            channel=channel.name,
            place=str(channel.place),
            falls=falls,
            read_s=estimate.at_s if channel.by_hand else None,
            signal=_over(channel, estimate, line_c, unsure_of_reflected=unsure_of_reflected),
            priority=priority,
            value=value_c,
            limit=line_c,
            unit=channel.quantity.unit,
            tell=partial(text, channel, estimate, limits, words),
        )
        for rule, line_c, priority, text in (
            (Rule.WALL_LIMIT, limits.limit_c, Priority.WARNING, _at_limit),
            (Rule.WALL_ALERT, limits.alert_c, Priority.CAUTION, _near_limit),
        )
    )


def _near_limit(channel: Channel, estimate: Estimate, limits: WallLimits, words: Words) -> str:
    near = "near" if _upper_c(estimate) > limits.alert_c else "below the alert again; it was near"
    return (
        f"{channel.station}: {channel.place} is at {_figure(estimate, words)}, {near} your limit "
        f"of {words.temperature(limits.limit_c)}. Go and look; have the snuffer or flat metal lid "
        "ready"
    )


def _at_limit(channel: Channel, estimate: Estimate, limits: WallLimits, words: Words) -> str:
    figure, limit = _figure(estimate, words), words.temperature(limits.limit_c)
    if (estimate.value or 0.0) > limits.limit_c:
        over = f"is at {figure}, over your limit of {limit}"
    elif _upper_c(estimate) > limits.limit_c:
        upper = words.temperature(_upper_c(estimate))
        over = f"is at {figure}: it could be up to {upper}, your limit is {limit}"
    else:
        over = f"reached your limit of {limit}; now it is at {figure}"
    return f"{channel.station}: {channel.place} {over}. Go to the candle: {PUT_OUT}"


def _figure(estimate: Estimate, words: Words) -> str:
    u = estimate.standard_uncertainty or 0.0
    return words.measured(estimate.value or 0.0, u, assumed=estimate.accuracy_assumed)


def _upper_c(estimate: Estimate) -> float:
    return (estimate.value or 0.0) + 2.0 * (estimate.standard_uncertainty or 0.0)


def rise_rate(
    channel: Channel, burn: Burn, trace: Trace, estimate: Estimate, words: Words
) -> Finding:
    """`rise-rate`: a wall that has warmed up and suddenly climbs.

    A doubtful estimate decides nothing: what leaps up by 40 K may be a flame that stays in an
    infrared sensor's sight.
    """
    now_s, value_c = trace.points[-1]
    armed = burn.may_burn and (burn.elapsed_s(now_s) >= RISE_ARMED_S or value_c > RISE_ARMED_C)
    if not armed:
        return off(Rule.RISE_RATE, channel.station, Priority.WARNING, subject=channel.name)
    rate = trace.rate_k_per_min(RISE_OVER_S)
    if rate is None or (estimate.quality is not Quality.GOOD and not channel.reflects):
        signal = Signal.HOLD
    elif rate > RISE_K_PER_MIN:
        signal = Signal.ON
    else:
        signal = Signal.OFF if rate < 0.5 * RISE_K_PER_MIN else Signal.HOLD
    return Finding(
        rule=Rule.RISE_RATE,
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        place=str(channel.place),
        signal=signal,
        priority=Priority.WARNING,
        value=rate,
        limit=RISE_K_PER_MIN,
        unit="K/min",
        tell=lambda: (
            f"{channel.station}: {channel.place} rises {words.difference(rate or 0.0)} "
            f"a minute, now {words.temperature(value_c)}. Go to the candle; if the flame is "
            f"too high, {PUT_OUT}"
        ),
    )


def flame_out(burn: Burn, traces: Sequence[Trace]) -> Finding:
    """`flame-out`: every wall place falls though the candle is recorded lit; never asserts it."""
    if not burn.lit:
        signal = Signal.OFF
    elif traces and all(trace.out_since is not None for trace in traces):
        signal = Signal.ON
    else:
        signal = Signal.OFF if any(trace.rises for trace in traces) else Signal.HOLD
    if signal is not Signal.ON:
        return off(Rule.FLAME_OUT, burn.station, Priority.CAUTION, signal)
    return Finding(
        rule=Rule.FLAME_OUT,
        subject=burn.station,
        station=burn.station,
        signal=signal,
        priority=Priority.CAUTION,
        tell=lambda: (
            f"{burn.station}: every wall place is cooling: the flame may be out. "
            "Look whether it is out; if so, record it"
        ),
    )


def still_hot(burn: Burn, hottest_c: float | None, now_s: float, words: Words) -> Finding:
    """`still-hot`: recorded out, and after 20 min the wall has not fallen."""
    due = burn.out_s is not None and not burn.cooled and now_s - burn.out_s >= STILL_HOT_S
    if not due:
        return off(Rule.STILL_HOT, burn.station, Priority.WARNING)
    if hottest_c is None:
        signal = Signal.HOLD
    else:
        signal = Signal.ON if hottest_c > STILL_HOT_C else Signal.OFF
    return Finding(
        rule=Rule.STILL_HOT,
        subject=burn.station,
        station=burn.station,
        signal=signal,
        priority=Priority.WARNING,
        value=hottest_c,
        limit=None if burn.out_wall_c is None else burn.out_wall_c - FALLEN_K,
        unit="degC",
        tell=lambda: (
            f"{burn.station}: recorded out {duration(now_s - (burn.out_s or now_s))} "
            f"ago, but the wall is still at "
            f"{words.temperature(hottest_c or 0.0)}. Look again: does it burn?"
        ),
    )
