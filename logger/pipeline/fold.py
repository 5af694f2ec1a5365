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


class Seconds:
    """The whole seconds after `after_s`, each once; one comes before any input stamped with it."""

    def __init__(self, after_s: float) -> None:
        self.after_s = after_s

    def upto(self, at_s: float) -> Iterator[Tick]:
        """Those that have come by `at_s`."""
        while (second_s := self.after_s // 1.0 + 1.0) <= at_s:
            self.after_s = second_s
            yield Tick(at_s=second_s)


def with_ticks(inputs: Iterable[Input], after_s: float | None = None) -> Iterator[Input]:
    """`inputs`, in order of time, with the whole seconds since `after_s` between them.

    Without `after_s` they begin at the first input; one stamped on a whole second has its tick.
    """
    seconds = None if after_s is None else Seconds(after_s)
    for item in inputs:
        seconds = seconds or begun(stamp_of(item))
        yield from seconds.upto(stamp_of(item))
        yield item


def begun(at_s: float) -> Seconds:
    """From `at_s` on: where that is a whole second, it has its tick."""
    return Seconds(at_s - 1e-6)
