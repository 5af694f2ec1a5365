"""What is watched: each rule turns a piece of the bench's state into a finding.

A rule decides on, off or neither; delays, acknowledging and reminding are the alarm's life, whose
times stand in TIMINGS. A rule that cannot see says HOLD: blindness never ends an alarm. To add a
rule, write its function here, give it a timing, and call it from the pipeline.
"""

from dataclasses import dataclass

from logger.alarms.lifecycle import Finding, Priority, Signal, Timing
from logger.burn.limits import Limits, WallLimits
from logger.burn.model import Burn
from logger.quantities import DEGC, Channel, Estimate, Health, Part, Quality, Unit

PUT_OUT = "put it out with a snuffer or lid; no water, do not lift or move the vessel"

WALL_GAP_K = 1.0  # under the line by this much before a wall alarm returns: common practice

DELIVERY_DELAY_S = 30.0  # this long without a confirmed message is a broken way out

_REMINDED = Timing(remind_first_s=120.0, remind_every_s=300.0)
"""A warning nobody acknowledges is told again; times are ours, no source."""

TIMINGS: dict[str, Timing] = {
    "wall-alert": Timing(off_delay_s=10.0),
    "wall-limit": Timing(
        off_delay_s=10.0, remind_first_s=120.0, remind_every_s=300.0, raise_again_s=600.0
    ),
    "burn-ending": Timing(),
    "burn-too-long": Timing(remind_first_s=120.0, remind_every_s=300.0, raise_again_s=600.0),
    "silent": _REMINDED,
    "delivery": Timing(on_delay_s=DELIVERY_DELAY_S),
    "storage": Timing(),
    "emergency": Timing(remind_first_s=60.0, remind_every_s=60.0, raise_again_s=600.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """How figures are written in the line a person reads."""

    temperature: Unit = DEGC

    def of(self, value_c: float) -> str:
        """A temperature in the bench's display unit, one decimal."""
        return f"{self.temperature.outside(value_c):.1f} {_SYMBOLS[self.temperature.name]}"

    def spread(self, difference_k: float) -> str:
        """A temperature difference in the bench's display unit, one decimal, without unit."""
        return f"{difference_k / self.temperature.factor:.1f}"


_SYMBOLS = {"degC": "°C", "degF": "°F", "kelvin": "K"}


def duration(seconds: float) -> str:
    """As a person says it: '40 s', '45 min', '3 h 05 min'."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


def _over(estimate: Estimate, line_c: float) -> Signal:
    """Whether value plus expanded uncertainty is over `line_c`."""
    if estimate.upper is None or estimate.quality is Quality.LOST:
        return Signal.HOLD
    if estimate.upper > line_c:
        return Signal.ON
    if estimate.upper < line_c - WALL_GAP_K and estimate.quality is Quality.GOOD:
        return Signal.OFF
    return Signal.HOLD


def wall(
    channel: Channel, estimate: Estimate, limits: WallLimits, words: Words
) -> tuple[Finding, ...]:
    """`wall-alert` and `wall-limit` of one place on a vessel."""
    value_c = estimate.value
    if value_c is None:
        return ()
    expanded_k = 2.0 * (estimate.standard_uncertainty or 0.0)
    seen = (
        f"{channel.station}: {channel.place} reads {words.of(value_c)} ± {words.spread(expanded_k)}"
    )
    return tuple(
        Finding(
            rule=rule,
            subject=channel.name,
            station=channel.station,
            channel=channel.name,
            signal=_over(estimate, line_c),
            priority=priority,
            value=value_c,
            limit=line_c,
            unit=channel.quantity.unit,
            text=f"{seen}, {advice}",
        )
        for rule, line_c, priority, advice in (
            (
                "wall-alert",
                limits.alert_c,
                Priority.CAUTION,
                f"near your limit of {words.of(limits.limit_c)}. Go and look; have the lid ready",
            ),
            (
                "wall-limit",
                limits.limit_c,
                Priority.WARNING,
                f"at your limit of {words.of(limits.limit_c)}. Go to the candle: {PUT_OUT}",
            ),
        )
    )


def silent(
    channel: Channel, *, age_s: float, allowed_s: float, lit: bool, reason: str | None
) -> Finding:
    """`silent`: the channel has not been heard for `age_s`; what it watched is not watched."""
    because = f" ({reason})" if reason else ""
    where = f"{channel.station}: {channel.place}" if channel.station else str(channel.place)
    act = "look at the candle now, then at plug and probe" if lit else "check plug and probe"
    return Finding(
        rule="silent",
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        signal=Signal.ON if age_s > allowed_s else Signal.OFF,
        priority=Priority.WARNING if lit else Priority.CAUTION,
        value=age_s,
        limit=allowed_s,
        unit="s",
        text=f"{where}: no reading for {age_s:.0f} s{because}. Nothing watches this place: {act}",
    )


def burn_length(burn: Burn, limits: Limits, now_s: float) -> tuple[Finding, ...]:
    """`burn-ending` and `burn-too-long` of one burn; off once a person has seen it out."""
    elapsed_s = burn.elapsed_s(now_s)
    left_s = limits.burn_length_s - elapsed_s
    lit = burn.out_s is None
    return tuple(
        Finding(
            rule=rule,
            subject=burn.station,
            station=burn.station,
            signal=Signal.ON if lit and due else Signal.OFF,
            priority=priority,
            value=elapsed_s,
            limit=limits.burn_length_s,
            unit="s",
            text=text,
        )
        for rule, due, priority, text in (
            (
                "burn-ending",
                left_s <= limits.burn_notice_s,
                Priority.NOTICE,
                f"{burn.station}: {duration(elapsed_s)} lit; "
                f"in {duration(max(left_s, 0.0))} {PUT_OUT}",
            ),
            (
                "burn-too-long",
                left_s < 0.0,
                Priority.WARNING,
                f"{burn.station}: lit for {duration(elapsed_s)}, longer than your "
                f"{duration(limits.burn_length_s)}. Go to the candle: {PUT_OUT}",
            ),
        )
    )


EMERGENCY_ADVICE = (
    "cover it with a metal lid or snuffer if that is safe; no water, do not blow, do not move the "
    "vessel; if it does not go out, leave and call the fire service"
)


def emergency(burn: Burn) -> Finding:
    """`emergency`: a person reported it; off once a person has seen the candle out."""
    what = burn.danger.words if burn.danger else "over"
    return Finding(
        rule="emergency",
        subject=burn.station,
        station=burn.station,
        signal=Signal.ON if burn.danger is not None and burn.out_s is None else Signal.OFF,
        priority=Priority.DANGER,
        text=f"EMERGENCY at {burn.station}, {what}: {EMERGENCY_ADVICE}",
    )


def health(news: Health, *, lit: bool) -> Finding:
    """`delivery` and `storage`: a way out or the disk does not do its work."""
    priority = Priority.WARNING if lit else Priority.CAUTION
    match news.part:
        case Part.DELIVERY:
            text = (
                f"{news.name}: {news.reason}. Alarms do not reach the phone: "
                "stay where you see the candle and this page"
            )
        case _:
            text = (
                f"{news.name}: {news.reason}. Readings are not being saved; the watch goes on: "
                "stay with the candle"
            )
    return Finding(
        rule=news.part.value,
        subject=news.name,
        signal=Signal.OFF if news.ok else Signal.ON,
        priority=priority,
        text=text,
    )
