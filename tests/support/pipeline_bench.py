"""A small bench for tests of the core: one jar, two wall places, a room probe."""

import random

from logger.burn.entries import Lit, Out
from logger.burn.limits import Limits, Material, Station, WallLimits
from logger.pipeline import Bench, Memory, Pipeline, begun
from logger.quantities import Channel, Place, Position, Quantity, Reading
from simulators.sensors import InfraredSensor

START_S = 1_935_651_600.0  # a whole second

LIMITS = Limits(
    burn_length_s=4 * 3600.0,
    burn_notice_s=900.0,
    cool_down_s=4 * 3600.0,
    room_low_c=20.0,
    room_high_c=27.0,
    wall={
        Material.GLASS: WallLimits(alert_c=57.2, limit_c=60.0),
        Material.METAL: WallLimits(alert_c=48.0, limit_c=51.0),
    },
)


def channel(name, position=Position.WALL, station="jar-a", height_mm=60.0, clock=3, **more):
    wall = position is Position.WALL
    return Channel(
        name=name,
        instrument="probes",
        station=station,
        quantity=Quantity.TEMPERATURE,
        place=Place(
            position=position, height_mm=height_mm if wall else None, clock=clock if wall else None
        ),
        **more,
    )


WALL, TWIN, ROOM = "jar-a-wall-3", "jar-a-wall-9", "room"
BROKER = "mqtt 127.0.0.1:1883"


def bench(**more):
    return Bench(
        channels=(
            channel(WALL, **more),
            channel(TWIN, clock=9, **more),
            channel(ROOM, Position.ROOM, station=None, **more),
        ),
        stations=(Station(name="jar-a", material=Material.GLASS),),
        limits=LIMITS,
    )


def channels_of(scenario):
    """The channels of a simulated bench, in the order of its values."""
    return tuple(
        Channel(
            name=c.name,
            instrument="probes",
            station=c.station,
            quantity=Quantity.TEMPERATURE,
            place=Place(position=Position(c.position), height_mm=c.height_mm, clock=c.clock),
            emissivity=c.emissivity,
            emissivity_set=c.emissivity_set or 1.0,
            reflected=c.reflected,
            resolution=c.resolution,
        )
        for c in scenario.channels
    )


def slow_spot(seed):
    """A spot read every ten seconds. A flame leans for seconds: that is one reading, not four."""
    return InfraredSensor(hit_share=0.12, burst_readings=1.0, seed=seed)


def read_slowly(scenario, spot):
    """The values of a simulated bench whose infrared sensor is `spot`."""
    spot_c = scenario.true_c(scenario.channels[-1])
    return [*scenario.sample()[:-1], spot.sample(spot_c, scenario.candle.room_c, lit=scenario.lit)]


COARSE_S = 10.0  # our choice: no rule of a bench where nothing is read is finer


class Live:
    """A pipeline fed at one line a second; collects what it says."""

    step_s = 1.0  # a burn that is read every five seconds may be stepped as often

    def __init__(self, pipeline=None, start_s=START_S):
        self.pipeline = pipeline or Pipeline(bench(), start_s)
        self.now_s = start_s
        self.seconds = begun(start_s)
        self.outputs = []

    def put(self, item, at_s=None):
        self._tick(self.now_s if at_s is None else at_s)
        outputs = self.pipeline.step(item)
        self.outputs.extend(outputs)
        return outputs

    def run(self, seconds, every_s=1, **values_of):
        """Read each `every_s`, and stepped as often; a channel left out says nothing.

        Values may be functions of time.
        """
        step_s, self.step_s = self.step_s, max(self.step_s, float(every_s))
        for _ in range(0, seconds, every_s):
            for name, value in values_of.items():
                at = value(self.now_s - START_S) if callable(value) else value
                if at is not None:
                    known = {"wall": WALL, "twin": TWIN, "room": ROOM}
                    self.put(Reading(channel=known[name], value=at, at_s=self.now_s))
            self.wait(every_s)
        self.step_s = step_s

    def wait(self, seconds):
        """Nothing is read; until the last of them only every tenth second is stepped."""
        self.now_s += seconds
        self._tick(self.now_s)

    def _tick(self, at_s):
        for tick in self.seconds.upto(at_s):
            step_s = self.step_s if at_s - tick.at_s < COARSE_S else COARSE_S
            if tick.at_s % step_s == 0.0:
                self.outputs.extend(self.pipeline.step(tick))

    def of(self, kind):
        return [output for output in self.outputs if isinstance(output, kind)]

    def alarms(self, rule=None):
        from logger.alarms.lifecycle import AlarmEvent

        return [
            (event.what, event.alarm.key)
            for event in self.of(AlarmEvent)
            if rule is None or event.alarm.finding.rule == rule
        ]


def stamps(at_s, entry_id="entry-1"):
    return {"at_s": at_s, "entered_s": at_s, "id": entry_id, "by": "Ann"}


def lit(at_s=START_S, trial="wick-6"):
    return Lit(**stamps(at_s), station="jar-a", trial=trial, watched_by="Ann")


def out(at_s):
    return Out(**stamps(at_s), station="jar-a")


def noisy(value_c, spread_k=0.2, seed=1):
    rng = random.Random(seed)
    return lambda _elapsed_s: round(value_c + rng.gauss(0.0, spread_k), 2)


def memory_of(live):
    return Memory(
        burns=live.pipeline.burns, alarms=live.pipeline.alarms, readings=(), burn_events={}
    )


def restarted(live, changed):
    """What the next run says in its first minute, with its configuration changed."""
    after = Live(Pipeline(changed, live.now_s, memory_of(live)), live.now_s)
    after.wait(60)
    return after
