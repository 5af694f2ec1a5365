"""What can be wrong with a sensor that goes on sending, and when it is well again.

A sensor fails in ways that an average hides: it sticks, hangs in the air, looks at the
flame. Each fault is found from the last minutes of the channel and of the places around it, says
why in words, and what to do. One that sends nothing is not of this module: silence has a rule of
its own.
"""

from logger.conditioning import neighbour_faults, single_faults
from logger.conditioning.fault_context import (
    APART_K,
    FaultKind,
    Scene,
    Seen,
    SensorFault,
    limit_k,
    plausible,
)
from logger.quantities import Position, Quantity
from logger.words import Words

WELL_S = 60.0  # without anything impossible: twice the usual window
BACK = 0.5  # of what it lost: it is where it was


def find(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """The gravest fault of a channel that is heard, if it has any."""
    channel = seen.channel
    fault = single_faults.impossible(seen, scene, words)
    if fault is not None or channel.quantity is not Quantity.TEMPERATURE:
        return fault
    fault = single_faults.stuck(seen, scene, words)
    if fault is None and channel.on_vessel:
        fault = neighbour_faults.fell_off(seen, scene, words) or neighbour_faults.stepped(
            seen, scene, words
        )
        return fault or neighbour_faults.differs(seen, scene, words)
    if fault is None and channel.place.position is Position.ROOM:
        return neighbour_faults.room_stepped(seen, scene, words)
    return fault


def fault_ended(
    kind: FaultKind, seen: Seen, scene: Scene, told: tuple[float | None, float | None]
) -> bool:
    """Whether the readings show that a fault of this kind is over, not only out of sight.

    `told` is what the channel said, and should have said, when the fault was told.
    """
    history, now_s = seen.history, scene.now_s
    match kind:
        case FaultKind.OUT_OF_RANGE | FaultKind.POWER_ON | FaultKind.IMPOSSIBLE:
            lately = history.within(now_s - WELL_S, now_s)
            well = not any(sample.ill or not plausible(sample.value) for sample in lately)
            well = well and not neighbour_faults.far_above(seen, scene.others)
            return well and bool(lately) and lately[-1].at_s <= now_s - 0.8 * WELL_S
        case FaultKind.STUCK:
            return history.since_s >= now_s - WELL_S
        case FaultKind.STEP if not seen.channel.on_vessel:
            ranges = history.ranges()
            return ranges is not None and ranges < neighbour_faults.ROOM_STEP_K
        case FaultKind.DRIFT:
            twins = scene.twins(seen.channel)
            near = [abs(seen.value - twin.value) < 0.7 * limit_k(seen, twin) for twin in twins]
            return bool(near) and all(near) and (scene.lit or scene.cold)
        case _:
            return _back(seen, scene, told)


def _back(seen: Seen, scene: Scene, told: tuple[float | None, float | None]) -> bool:
    """Whether one that had left the wall is on it again."""
    said_c, expected_c = told
    if scene.new_burn and scene.lit and seen.value - seen.history.samples[0].value > APART_K:
        return True  # it feels the flame; if less than it should, a rule says so again
    if said_c is None or expected_c is None:
        return False
    enough_k = BACK * (expected_c - said_c)
    if seen.history.step(scene.now_s) > enough_k:
        return True
    return any(
        twin.value > said_c + enough_k and abs(seen.value - twin.value) < APART_K
        for twin in scene.twins(seen.channel)
    )
