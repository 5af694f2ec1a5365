"""The rule about where the wall is going: the only one that speaks before anything is wrong."""

from logger.alarms.lifecycle import Finding, Priority, Signal
from logger.alarms.words import Words, duration
from logger.burn.forecast import Forecast
from logger.burn.model import Burn
from logger.quantities import Channel

LIKELY = 0.5  # more likely than not over the limit at the end: on ...
UNLIKELY = 0.3  # ... and off again below this, so that it does not flicker (choice)


def wall_forecast(channel: Channel, burn: Burn, forecast: Forecast, words: Words) -> Finding:
    """`wall-forecast`: a place will likely pass the limit before the end of the burn."""
    if not burn.lit:
        signal = Signal.OFF
    elif forecast.early:
        signal = Signal.HOLD
    elif forecast.over > LIKELY:
        signal = Signal.ON
    else:
        signal = Signal.OFF if forecast.over < UNLIKELY else Signal.HOLD
    crosses_s, limit = forecast.crosses_s, words.of(forecast.limit_c)
    if crosses_s is None:
        when = f"will likely pass your limit of {limit} by the end of the burn"
    elif crosses_s - forecast.at_s < 60.0:
        when = f"is at your limit of {limit} and likely stays over it"
    else:
        ahead = duration(crosses_s - forecast.at_s)
        when = f"will likely pass your limit of {limit} in {ahead}"
    return Finding(
        rule="wall-forecast",
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        signal=signal,
        priority=Priority.CAUTION,
        value=forecast.value_c,
        limit=forecast.limit_c,
        unit=channel.quantity.unit,
        text=f"{channel.station}: {channel.place} {when}; expected at the end "
        f"{words.of(forecast.value_c)}, between {words.of(forecast.low_c)} and "
        f"{words.of(forecast.high_c)}. Stay near, have the snuffer or flat metal lid ready",
    )
