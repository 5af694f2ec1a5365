"""[pure] What a probe sends at this moment, how noisy it is, and whether it has just moved.

Raw readings, not estimates: those are slow on purpose, and who holds a probe wants to see it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from logger.quantities import Channel, Quantity, Reading, Transducer
from logger.web.texts import gettext as _
from logger.words import Words, duration

NEW_S = 3.0  # readings so new may be of a finger (our choice)
FEWEST = 4  # readings before those, to know what is usual
NOISES = 6.0  # a step of so many standard deviations is no noise (our choice)
LEAST = {Quantity.TEMPERATURE: 0.5}  # in °C; of anything else the noise alone decides (our choice)
OLD_S = 15.0  # as long as an instrument may be silent by default


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeView:
    """One channel as it is read now."""

    channel: Channel
    value: str  # empty: nothing has come
    noise: str  # standard deviation of one reading; empty: too few came
    age: str  # of the latest reading, where it is not of this moment
    moved: bool
    move: str  # by how much, or why that cannot be said

    @property
    def version(self) -> str:
        """Changes with anything that is shown."""
        return f"{self.value} {self.noise} {self.age} {self.move}"


def probe_view(channel: Channel, heard: Sequence[Reading], words: Words, now_s: float) -> ProbeView:
    """`channel` by the readings that were `heard` of it, in order of time."""
    latest = heard[-1] if heard else None
    new = [one.value for one in heard if latest and one.at_s > latest.at_s - NEW_S]
    before = [one.value for one in heard[: len(heard) - len(new)]]
    noise, move, moved = _noise(before), "", False
    if latest is None:
        move = _("nothing has come from it yet")
    elif noise is None:
        move = _("listening: leave it alone for some seconds")
    else:
        step = fmean(new) - median(before)
        scale = channel.unit.factor if _converted(channel) else 1.0
        least = LEAST.get(channel.quantity, 0.0) / scale if _converted(channel) else 0.0
        moved = abs(step) > max(NOISES * noise, least)
        move = f"{'+' if step > 0.0 else '-'}{_step(channel, abs(step), words)}" if moved else ""
    age_s = 0.0 if latest is None else now_s - latest.at_s
    return ProbeView(
        channel=channel,
        value="" if latest is None else _value(channel, latest.value, words),
        noise="" if noise is None else _spread(channel, noise, words),
        age=_("%(age)s ago", age=duration(age_s)) if age_s > OLD_S else "",
        moved=moved and age_s <= OLD_S,
        move=move,
    )


def _noise(values: Sequence[float]) -> float | None:
    """Standard deviation of one reading from successive differences, which a slow drift leaves
    alone (von Neumann 1941, from memory); None for too few readings.
    """
    if len(values) < FEWEST:
        return None
    squares = [(after - before) ** 2 for before, after in pairwise(values)]
    return math.sqrt(fmean(squares) / 2.0)


def _spread(channel: Channel, noise: float, words: Words) -> str:
    return _step(channel, noise, words) if noise else _("below one step of what it sends")


def _converted(channel: Channel) -> bool:
    """Whether a reading becomes what is shown by its unit alone."""
    return channel.transducer is Transducer.NONE


def _value(channel: Channel, value: float, words: Words) -> str:
    if _converted(channel):
        return words.value(channel.unit.inside(value), channel.quantity)
    return f"{value:.4g} {channel.unit.symbol}"


def _step(channel: Channel, size: float, words: Words) -> str:
    rounded = float(f"{size:.2g}")
    if _converted(channel):
        inside = float(f"{channel.unit.scale.inside(rounded):.2g}")
        return words.step(inside, channel.quantity)
    return f"{rounded:g} {channel.unit.symbol}"
