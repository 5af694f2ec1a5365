"""A bench of two jars under nine probes, and what a person is told of it."""

from logger.announcements import Announcer
from logger.burn.entries import Lit
from logger.burn.limits import Material, Station
from logger.burn.safety import CHECKS
from logger.pipeline import Bench, Pipeline
from logger.quantities import Health, Part, Position, Reading
from logger.words import Words
from tests.support.pipeline_bench import LIMITS, START_S, Live, channel, stamps

PLACES = tuple(
    channel(f"{station}-wall-{at}", station=station, clock=at)
    for station, ats in (("jar-a", (3, 6, 9, 12)), ("jar-b", (3, 6, 9, 12)))
    for at in ats
)
NINE = (*PLACES, channel("room", Position.ROOM, station=None))
TWO_JARS = Bench(
    channels=NINE,
    stations=tuple(Station(name=name, material=Material.GLASS) for name in ("jar-a", "jar-b")),
    limits=LIMITS,
)


class Heard:
    """A bench of two jars on one instrument, and what is announced of it."""

    def __init__(self):
        self.live = Live(Pipeline(TWO_JARS, START_S))
        self.pipeline = self.live.pipeline
        self.announcer = Announcer(
            Words(), lambda: self.pipeline.burns, lambda: self.pipeline.alarms
        )
        self.steps = []
        step = self.pipeline.step

        def announcing(item):
            outputs = step(item)
            self.steps += self.announcer.announce(outputs)
            return outputs

        self.pipeline.step = announcing

    def lit(self, station, trial, tester):
        entry = Lit(
            **stamps(self.live.now_s, f"lit-{station}"),
            station=station,
            trial=trial,
            tester=tester,
            checks=tuple(CHECKS.values()),
        )
        self.live.put(entry)

    def run(self, seconds, value_c=45.0, every_s=1, **values):
        self.live.step_s = every_s
        for _ in range(0, seconds, every_s):
            for one in NINE:
                at = values.get(one.name.replace("-", "_"), 22.0 if one.name == "room" else value_c)
                value = at(self.live.now_s) if callable(at) else at
                self.live.put(Reading(channel=one.name, value=value, at_s=self.live.now_s))
            self.live.wait(every_s)
        self.live.step_s = 1

    def plug(self, ok):
        reason = "" if ok else "the port is gone"
        news = Health(
            part=Part.INSTRUMENT, name="probes", ok=ok, reason=reason, at_s=self.live.now_s
        )
        self.live.put(news)

    @property
    def phone(self):
        return [one.line for one in self.steps if one.phone]


def both_lit():
    """Two jars that have burned for a minute."""
    found = Heard()
    found.lit("jar-a", "cedar-12", "M6")
    found.lit("jar-b", "oak-3", "T1")
    found.run(60)
    found.steps.clear()
    return found
