"""`battery-low`: an instrument that may fall silent in a burn, told while it can be helped."""

from dataclasses import replace

from logger.alarms.lifecycle import Finding, Priority, Signal
from logger.burn.safety import LOW_BATTERY
from logger.quantities import Channel, Health, Rule

LOW_PERCENT = 20  # at this and below; common practice of battery powered sensors
FINE_PERCENT = 25  # from here on it is over: a battery recovers a little when it is warm


def battery_low(channel: Channel, news: Health, *, lit: bool) -> Finding | None:
    """Of the instrument whose first channel is `channel`; None where it tells no battery.

    An alarm is of a channel or a station, so this one stands at the first of the instrument.
    """
    percent = news.battery_percent
    if percent is None:
        return None
    if LOW_PERCENT < percent < FINE_PERCENT:
        signal = Signal.HOLD
    else:
        signal = Signal.ON if percent <= LOW_PERCENT else Signal.OFF
    act = LOW_BATTERY if lit else "Change it before you light a candle"
    return Finding(
        rule=Rule.BATTERY_LOW,
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        signal=signal,
        priority=Priority.NOTICE,
        value=float(percent),
        limit=float(LOW_PERCENT),
        unit="percent",
        tell=lambda: f"{channel.instrument}: battery at {percent} %. {act}",
    )


def anew(finding: Finding) -> tuple[Finding, ...]:
    """`finding`, told once more if it still stands: after a candle is lit, and after it is out."""
    return replace(finding, signal=Signal.OFF), finding
