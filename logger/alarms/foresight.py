"""The rule about where the wall is going: the only one that speaks before anything is wrong."""

from logger.alarms.lifecycle import Finding, Priority, Signal, off
from logger.burn.forecast import Forecast
from logger.quantities import Channel, Rule
from logger.words import Words, duration

LIKELY = 0.5  # more likely than not over the limit at the end: on ...
UNLIKELY = 0.3  # ... and off again below this, so that it does not flicker (choice)


def wall_forecast(channel: Channel, forecast: Forecast, words: Words) -> Finding:
    """`wall-forecast`: a place of a burn that is lit will likely pass the limit before its end.

    When is `expected_s`: how long that is ahead is said where it is shown.
    """
    if forecast.early:
        signal = Signal.HOLD
    elif forecast.over < UNLIKELY:
        return off(Rule.WALL_FORECAST, channel.station, Priority.CAUTION, subject=channel.name)
    else:
        signal = Signal.ON if forecast.over > LIKELY else Signal.HOLD
    return Finding(
        rule=Rule.WALL_FORECAST,
        subject=channel.name,
        station=channel.station,
        channel=channel.name,
        place=str(channel.place),
        signal=signal,
        priority=Priority.CAUTION,
        value=forecast.value_c,
        limit=forecast.limit_c,
        unit=channel.quantity.unit,
        expected_s=forecast.crosses_s,
        tell=lambda: (
            f"{channel.station}: {channel.place} will likely pass your limit of "
            f"{words.temperature(forecast.limit_c)} by the end of the burn: "
            f"{words.temperature(forecast.value_c)} then, between "
            f"{words.temperature(forecast.low_c)} and {words.temperature(forecast.high_c)}. "
            "Stay near, have the snuffer or flat metal lid ready"
        ),
    )


def ahead(expected_s: float, now_s: float) -> str:
    """How long until the limit is reached, as it is said at `now_s`."""
    left_s = expected_s - now_s
    when = "about now" if left_s < 60.0 else f"in {duration(left_s)}"
    return f"it reaches the limit {when}"
