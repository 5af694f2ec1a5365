"""What the time of an input is, and the whole seconds that come between inputs."""

from collections.abc import Iterable, Iterator

from logger.burn.entries import Entry
from logger.pipeline.bench import Input
from logger.quantities import Tick


def stamp_of(item: Input) -> float:
    """When an input was known: what a person enters counts from its entry, not its `at`."""
    return item.entered_s if isinstance(item, Entry) else item.at_s


def due(now_s: float, every_s: float) -> bool:
    """Whether a publication falls on this whole second."""
    return every_s <= 1.0 or now_s % every_s < 1.0


def ticks(after_s: float, upto_s: float) -> Iterable[Tick]:
    """The whole seconds in (after_s, upto_s]: each comes before any input stamped with it."""
    second = int(after_s // 1.0) + 1
    while second <= upto_s:
        yield Tick(at_s=float(second))
        second += 1


def with_ticks(inputs: Iterable[Input], after_s: float | None = None) -> Iterator[Input]:
    """`inputs`, in order of time, with the whole seconds since `after_s` between them.

    Without `after_s` they begin at the first input; one stamped on a whole second has its tick.
    """
    for item in inputs:
        stamp_s = stamp_of(item)
        yield from ticks(stamp_s - 1e-6 if after_s is None else after_s, stamp_s)
        after_s = stamp_s
        yield item
