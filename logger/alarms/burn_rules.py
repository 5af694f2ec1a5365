"""Rules about a burn: its length, its rest before, who watches, what a person reports."""

from collections.abc import Callable, Sequence

from logger.alarms.lifecycle import Finding, Priority, Signal, off
from logger.alarms.wall import STILL_HOT_C
from logger.burn import safety
from logger.burn.entries import Danger
from logger.burn.limits import Limits
from logger.burn.marks import due_mark, mark_of, marks
from logger.burn.model import Burn
from logger.quantities import Rule
from logger.words import duration

BY_HAND_EVERY_S = 1800.0  # marks of a test burn: 30 min, 1, 2, 3, 4 h (common practice)
BY_HAND_GRACE_S = 300.0

FALLS_WITHIN_S = 600.0  # a wall has fallen by FALLEN_K so long after out; 3 min when simulated


def burn_length(
    burn: Burn, limits: Limits, now_s: float, *, hottest_c: float | None = None
) -> tuple[Finding, ...]:
    """`burn-ending`, off once a person has seen it out, and `burn-too-long`, off once the wall
    has fallen as well; `hottest_c` is the hottest place that an instrument sees now.
    """
    elapsed_s = now_s - burn.lit_s if burn.may_burn else burn.elapsed_s(now_s)
    longest_s = burn.longest_s(limits)
    left_s = longest_s - elapsed_s
    if not burn.may_burn or left_s > max(limits.burn_notice_s, 0.0):
        return (
            off(Rule.BURN_ENDING, burn.station, Priority.NOTICE),
            off(Rule.BURN_TOO_LONG, burn.station, Priority.WARNING),
        )
    planned = longest_s < limits.burn_length_s
    return tuple(
        Finding(
            rule=rule,
            subject=burn.station,
            station=burn.station,
            signal=signal,
            priority=priority,
            value=elapsed_s,
            limit=longest_s,
            unit="s",
            tell=tell,
        )
        for rule, signal, priority, tell in (
            (
                Rule.BURN_ENDING,
                Signal.ON if burn.lit and left_s <= limits.burn_notice_s else Signal.OFF,
                Priority.NOTICE,
                lambda: (
                    f"{burn.station}: {duration(elapsed_s)} lit; the burn ends in "
                    f"{duration(max(left_s, 0.0))}. Then {safety.PUT_OUT}"
                ),
            ),
            (
                Rule.BURN_TOO_LONG,
                _too_long(burn, left_s, now_s, hottest_c),
                Priority.WARNING,
                lambda: (
                    f"{burn.station}: lit for {duration(elapsed_s)}, longer than "
                    f"{'the' if planned else 'your'} {duration(longest_s)}"
                    f"{' planned' if planned else ''}. Go to the candle: {safety.PUT_OUT}"
                ),
            ),
        )
    )


def _too_long(burn: Burn, left_s: float, now_s: float, hottest_c: float | None) -> Signal:
    if left_s >= 0.0 or not burn.may_burn:
        return Signal.OFF
    if burn.out_s is None:
        return Signal.ON
    if hottest_c is None or now_s - burn.out_s < FALLS_WITHIN_S:
        return Signal.HOLD
    return Signal.ON if hottest_c > STILL_HOT_C else Signal.OFF


def relit_too_soon(burn: Burn, limits: Limits) -> Finding:
    """`relit-too-soon`: lit before the wax of the burn before had its time to set."""
    rested_s = burn.rested_s
    if not burn.lit or rested_s is None or rested_s >= limits.cool_down_s:
        return off(Rule.RELIT_TOO_SOON, burn.station, Priority.CAUTION)
    return Finding(
        rule=Rule.RELIT_TOO_SOON,
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON,
        priority=Priority.CAUTION,
        value=rested_s,
        limit=limits.cool_down_s,
        unit="s",
        tell=lambda: (
            f"{burn.station}: lit after {duration(rested_s)} of rest; your "
            f"cool-down is {duration(limits.cool_down_s)}. Relit warm, it is a different "
            "test: consider putting it out"
        ),
    )


def unchecked(burn: Burn) -> Finding:
    """`unchecked`: a person recorded it lit and did not confirm all that is asked before."""
    left = () if burn.checks is None else safety.unconfirmed(burn.checks)
    if not (burn.lit and left):
        return off(Rule.UNCHECKED, burn.station, Priority.CAUTION)
    more = len(left) - 1
    rest = f"; and {more} more check{'s' if more > 1 else ''}, see the page" if more > 0 else ""
    return Finding(
        rule=Rule.UNCHECKED,
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON,
        priority=Priority.CAUTION,
        tell=lambda: (
            f"{burn.station}: lit, and not confirmed: {left[0]}{rest}. Check it now; "
            f"where it is not so, {safety.PUT_OUT}"
        ),
    )


def mark(
    burn: Burn,
    marks_s: Sequence[float],
    now_s: float,
    elsewhere: Callable[[], str] = lambda: "",
) -> Finding:
    """`mark`: it is time to look at the candle; off once somebody has, or it is too late.

    `elsewhere` says what is next across the bench.
    """
    elapsed_s, due = burn.elapsed_s(now_s), None
    if burn.lit and mark_of(elapsed_s, marks_s) is not None:
        looked_s = [at_s - burn.lit_s for at_s in burn.looked_s]
        due = due_mark(marks(marks_s, looked_s, elapsed_s, lit=True))
    if due is None:
        return off(Rule.MARK, burn.station, Priority.NOTICE)
    return Finding(
        rule=Rule.MARK,
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON,
        priority=Priority.NOTICE,
        value=elapsed_s,
        limit=due.mark_s,
        unit="s",
        tell=lambda: (
            f"{burn.station}: time to look at the candle, {duration(due.mark_s)} of being lit. "
            f"{safety.LOOK}; record it on the page{f'. {then}' if (then := elsewhere()) else ''}"
        ),
    )


def unwatched(burn: Burn, every_s: float, now_s: float) -> Finding:
    """`unwatched`: nobody has had the candle before them of late."""
    since_s = burn.before_eyes_s
    if not burn.lit or now_s - since_s < every_s:
        return off(Rule.UNWATCHED, burn.station, Priority.WARNING)
    return Finding(
        rule=Rule.UNWATCHED,
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON,
        priority=Priority.WARNING,
        value=now_s - since_s,
        limit=every_s,
        unit="s",
        tell=lambda: (
            f"{burn.station}: nobody has confirmed for {duration(now_s - since_s)} that it is "
            "in sight. Go and look, then answer on the page, or put it out"
        ),
    )


def overdue_by_hand(burn: Burn, last_s: float, now_s: float) -> Finding:
    """`silent` of a burn that only a person reads, last at `last_s`: a reading is overdue."""
    age_s = now_s - last_s
    return Finding(
        rule=Rule.SILENT,
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON if burn.lit and age_s > BY_HAND_EVERY_S + BY_HAND_GRACE_S else Signal.OFF,
        priority=Priority.WARNING,
        value=age_s,
        limit=BY_HAND_EVERY_S,
        unit="s",
        tell=lambda: (
            f"{burn.station}: no automatic watch, and no reading by hand for "
            f"{duration(age_s)}. Go and read the wall now"
        ),
    )


def emergency(burn: Burn) -> Finding:
    """`emergency`: a person reported it; off once a person has seen the candle out since."""
    if not burn.in_danger:
        return off(Rule.EMERGENCY, burn.station, Priority.DANGER)
    what = burn.danger or Danger.OTHER
    return Finding(
        rule=Rule.EMERGENCY,
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON,
        priority=Priority.DANGER,
        tell=lambda: (
            f"{burn.station}: EMERGENCY, {what.words}. " + ". ".join(safety.emergency_advice(what))
        ),
    )
