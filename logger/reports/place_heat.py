"""[pure] The heat of a burn, place by place, computed again from its stored estimates."""

import math
from collections.abc import Iterable, Mapping, Sequence
from heapq import merge

from logger.burn.expected import Expected
from logger.burn.forecast import BurnForecast
from logger.burn.heat import TimeOver, WarmUp
from logger.burn.limits import WallLimits
from logger.conditioning.calibration import Calibration, in_force
from logger.conditioning.uncertainty import Budget, Component, systematic_components
from logger.quantities import Estimate, Position, Quality
from logger.reports.document import PlaceHeat, Series, rooms_of


def heat(
    series: Sequence[Series],
    wall: WallLimits,
    *,
    lit_s: float,
    until_s: float,
    calibrations: Mapping[str, Sequence[Calibration]],
    expected: Mapping[str, Expected] | None = None,
) -> tuple[PlaceHeat, ...]:
    """Every place in the order of `series`; `calibrations` as they were known in the burn.

    `expected` is what its forecasts started from, by channel.
    """
    fits = warm_ups(series, lit_s=lit_s, until_s=until_s, expected=expected)
    return tuple(
        _place(
            one,
            series,
            wall,
            budget=None if one.by_hand else _budget(one, series, calibrations),
            warm_up=fits.get(one.channel.name),
        )
        for one in series
    )


def warm_ups(
    series: Iterable[Series],
    *,
    lit_s: float,
    until_s: float,
    expected: Mapping[str, Expected] | None = None,
) -> dict[str, WarmUp]:
    """The warm-up of every place that an instrument read, from lighting to out."""
    seen = [one for one in series if not one.by_hand and (one.channel.on_vessel or _is_room(one))]
    seen.sort(key=lambda one: not _is_room(one))  # of one moment the room comes first
    course = BurnForecast(lit_s, expected)
    streams = [[(e.at_s, i, e) for e in one.estimates] for i, one in enumerate(seen)]
    for at_s, i, estimate in merge(*streams, key=lambda item: item[:2]):
        if at_s > until_s:
            break
        if _is_room(seen[i]):
            course.see_room(estimate)
        else:
            course.see_wall(estimate)
    fits = {name: course.fit(name) for name in course.channels}
    return {name: fit for name, fit in fits.items() if fit is not None}


def _place(
    one: Series,
    series: Sequence[Series],
    wall: WallLimits,
    *,
    budget: Budget | None,
    warm_up: WarmUp | None,
) -> PlaceHeat:
    highest = one.highest
    if not one.channel.on_vessel or highest is None:
        return PlaceHeat(series=one, budget=budget)
    over = TimeOver((wall.alert_c, wall.limit_c))
    for estimate in one.estimates:
        if estimate.quality is Quality.GOOD and estimate.value is not None:
            over.add(estimate.at_s, estimate.value)
    return PlaceHeat(
        series=one,
        budget=budget,
        warm_up=warm_up,
        over_alert_s=None if one.by_hand else over.over_s[wall.alert_c],
        over_limit_s=None if one.by_hand else over.over_s[wall.limit_c],
        warmest=rooms_of(series).warmest(one.estimates),
    )


def _budget(
    one: Series, series: Sequence[Series], calibrations: Mapping[str, Sequence[Calibration]]
) -> Budget | None:
    """Of its highest good estimate."""
    good = [e for e in one.estimates if e.quality is Quality.GOOD and e.value is not None]
    highest = max(good, key=lambda e: e.value or 0.0, default=None)
    if highest is None or highest.value is None or highest.repeatability is None:
        return None
    parts = [
        Component(
            name="repeatability",
            standard_uncertainty=highest.repeatability,
            systematic=False,
            basis=lambda _: f"{highest.used} readings in the window",
        ),
        *(
            part
            for part in systematic_components(
                one.channel,
                value=highest.value,
                reflected_c=_reflected_c(one, series, highest.at_s),
                calibration=in_force(calibrations.get(one.channel.name, ()), highest.at_s),
            )
            if part.name != "lag"
        ),
    ]
    rest = (highest.standard_uncertainty or 0.0) ** 2 - Budget(
        components=tuple(parts)
    ).combined ** 2
    if one.channel.lag_s > 0.0 and rest > 0.0:  # the slope of that moment is not stored
        basis = f"slope over a time constant of {one.channel.lag_s:g} s, rectangular"
        parts.append(
            Component(
                name="lag",
                standard_uncertainty=math.sqrt(rest),
                systematic=True,
                basis=lambda _: basis,
            )
        )
    return Budget(components=tuple(parts))


def _reflected_c(one: Series, series: Sequence[Series], at_s: float) -> float | None:
    reflected = one.channel.reflected
    if not isinstance(reflected, str):
        return reflected
    known = next((other for other in series if other.channel.name == reflected), None)
    before: list[Estimate] = [] if known is None else [e for e in known.estimates if e.at_s <= at_s]
    return before[-1].value if before else None


def _is_room(one: Series) -> bool:
    return one.place.position is Position.ROOM
