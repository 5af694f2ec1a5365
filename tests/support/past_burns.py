"""Burns of before, folded by the pipeline and stored as the recorder would have: seconds for hours.

Every five seconds a reading of each channel: the first place catches the flame now and then, the
second is silent from a third of the burn to half of it.
"""

import asyncio
import math
import random
from collections.abc import Iterator
from heapq import merge
from pathlib import Path

from logger import settings
from logger.burn.entries import Entry, Lit, Note, Observed, Out
from logger.burn.look import Look
from logger.pipeline import Input, Pipeline, stamp_of, with_ticks
from logger.quantities import Position, Reading
from logger.service.core import bench_of
from logger.store.store import Store

STEP_S = 5
CHECKED = ("tray", "clear", "vessel", "room", "lid", "watcher")
AFTER_OUT_S = 600


class PastBurn:
    """One burn on jar-a, and all that came of it."""

    def __init__(self, lit_s: float, length_s: float, *, trial: str, peak_c: float, lit=False):
        self.lit_s, self.length_s, self.trial, self.peak_c, self.lit = (
            lit_s, length_s, trial, peak_c, lit
        )  # fmt: skip
        self.silent_s = (lit_s + length_s / 3.0, lit_s + length_s / 2.0)

    def readings(self, channels) -> Iterator[Reading]:
        """In order of time."""
        dice = random.Random(self.trial)  # the same hits at any time of day
        end_s = int(self.length_s) + (0 if self.lit else AFTER_OUT_S)
        for since_s in range(0, end_s, STEP_S):
            at_s = self.lit_s + since_s + 0.3
            for number, channel in enumerate(channels):
                if channel.place.position is Position.ROOM:
                    value = 22.0
                else:
                    rise_k = self.peak_c - 2.5 * number - 22.0
                    value = 22.0 + rise_k * (1.0 - math.exp(-min(since_s, self.length_s) / 1500.0))
                    value -= max(0.0, since_s - self.length_s) / 60.0
                    value += dice.gauss(0.0, 0.1)
                if number == 0 and dice.random() < 0.05:
                    value += 9.0
                if number == 1 and self.silent_s[0] <= at_s < self.silent_s[1]:
                    continue
                yield Reading(channel=channel.name, value=round(value, 2), at_s=at_s)

    def entries(self) -> Iterator[Entry]:
        """What a person entered."""

        def stamps(since_s):
            at_s = self.lit_s + since_s
            return {"at_s": at_s, "entered_s": at_s, "id": f"{self.trial}-{at_s:.0f}"}

        jar = {"station": "jar-a"}
        yield Lit(
            **stamps(0.1), **jar, trial=self.trial, tester="M6", checks=CHECKED, watched_by="Ines"
        )
        yield Note(**stamps(self.length_s / 6.0), **jar, text="a draught from the door")
        yield Observed(**stamps(self.length_s / 4.0), **jar, look=Look(flame_mm=(22.0,), smoke=0))
        if not self.lit:
            yield Out(**stamps(self.length_s), **jar)


def put(config: Path, *burns: PastBurn) -> None:
    """Store `burns`, in order of time, in the data folder of a configuration."""
    loaded = settings.load(config)
    bench = bench_of(loaded)
    inputs: list[Input] = []
    for one in burns:
        inputs += merge(one.entries(), one.readings(bench.channels), key=stamp_of)
    pipeline = Pipeline(bench, burns[0].lit_s - 1.0)
    steps = []
    for item in with_ticks(inputs):
        steps.append((item, pipeline.step(item)))

    async def store() -> None:
        opened = await Store.open(loaded.bench.data)
        await opened.begin_run(
            settings_text=loaded.text, bench=bench, started_s=burns[0].lit_s - 1.0, version="0"
        )
        for first in range(0, len(steps), 2000):
            await opened.append(steps[first : first + 2000])
        await opened.close()

    loaded.bench.data.mkdir(parents=True, exist_ok=True)
    asyncio.run(store())
