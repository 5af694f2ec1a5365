"""Rules about what the watch itself rests on: channels, the room, the way out, the disk."""

from logger.alarms.lifecycle import Finding, Priority, Signal
from logger.burn.limits import Limits
from logger.burn.safety import LOST_SENSOR
from logger.quantities import Channel, Estimate, Health, Part, Quality, Rule
from logger.words import Words, duration

ROOM_GAP_K = 0.5  # inside the range by this much before the alarm returns: our choice


def silent(
    channel: Channel,
    *,
    age_s: float,
    allowed_s: float,
    heard: bool,
    lost: bool,
    lit: bool,
    reason: str | None,
) -> Finding:
    """`silent`: the channel has not been heard for `age_s`; what it watched is not watched.

    `heard`: it has been since the watch began; before, no silence is over. `lost`: another
    channel of its instrument is silent, and this one nearly so.
    """
    return Finding(
        rule=Rule.SILENT,
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        place=str(channel.place),
        signal=_silence(lost=lost or age_s > allowed_s, heard=heard),
        priority=Priority.WARNING if lit else Priority.CAUTION,
        value=age_s,
        limit=min(age_s, allowed_s),
        unit="s",
        tell=lambda: _not_watched(channel, age_s, reason, lit=lit),
    )


def _not_watched(channel: Channel, age_s: float, reason: str | None, *, lit: bool) -> str:
    where = f"{channel.station}: {channel.place}" if channel.station else str(channel.place)
    because = f" ({reason})" if reason else ""
    act = LOST_SENSOR if lit else "Check plug and probe, once the vessel is cold"
    return f"{where}: not being watched, no reading for {duration(age_s)}{because}. {act}"


def _silence(*, lost: bool, heard: bool) -> Signal:
    if lost:
        return Signal.ON
    return Signal.OFF if heard else Signal.HOLD


def room(
    channel: Channel, estimate: Estimate, limits: Limits, words: Words, *, lit: bool
) -> Finding:
    """`room-out-of-range`: a burn in a room that is not as it should be says less."""
    value_c, low_c, high_c = estimate.value, limits.room_low_c, limits.room_high_c
    if not lit:
        signal = Signal.OFF
    elif value_c is None or estimate.quality is not Quality.GOOD:
        signal = Signal.HOLD
    elif not low_c <= value_c <= high_c:
        signal = Signal.ON
    else:
        inside = low_c + ROOM_GAP_K <= value_c <= high_c - ROOM_GAP_K
        signal = Signal.OFF if inside else Signal.HOLD
    return Finding(
        rule=Rule.ROOM_OUT_OF_RANGE,
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        signal=signal,
        priority=Priority.CAUTION,
        value=value_c,
        limit=low_c if value_c is not None and value_c < low_c else high_c,
        unit=channel.quantity.unit,
        tell=lambda: (
            f"the room is at {words.temperature(value_c or 0.0)}, outside "
            f"{words.temperature(low_c)} to {words.temperature(high_c)}: "
            "this burn tells little about an ordinary room"
        ),
    )


def health(news: Health, *, lit: bool) -> Finding:
    """`delivery`, `storage`, `clock`: a way out, the disk or the clock does not do its work.

    Of what is only ahead nobody needs to run to the candle. An engine that is behind is a notice:
    nothing is lost, and nobody at the candle need act.
    """
    rule = Rule.DELIVERY if news.part is Part.FORWARDING else Rule(news.part)
    priority = Priority.WARNING if lit and not news.ahead else Priority.CAUTION
    match news.part:
        case Part.DELIVERY:
            text = (
                f"{news.name}: {news.reason}. Alarms do not reach the phone: "
                "stay where you see the candle and this page"
            )
        case Part.FORWARDING:
            priority = Priority.NOTICE
            text = (
                f"{news.name}: {news.reason}. Nothing is lost, and alarms go out all the same: "
                "what the engine does not have stays stored here"
            )
        case Part.CLOCK:
            text = news.reason
        case _ if news.ahead:
            text = news.reason
        case _:
            text = f"{news.name}: {news.reason}. The watch goes on: stay with the candle"
    return Finding(
        rule=rule,
        subject=news.name,
        signal=Signal.OFF if news.ok else Signal.ON,
        priority=priority,
        text=text,
    )
