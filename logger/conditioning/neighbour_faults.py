"""Faults that a place shows among its neighbours: off the wall, knocked aside, unlike its twin.

Figures are our choice, made on the simulated candle unless said otherwise. There no place falls
by more than 0.4 K within 30 s while lit and 2.5 K after, two sides at one height drift apart by
at most 2.4 K within five minutes, the colder side keeps 0.63 of the other's rise above the room
with a wick 15 mm off the axis, and the slowest wall place is 3 K above the room when the median
of the others is 8 K above it.
"""

from collections.abc import Iterable
from statistics import median

from logger.conditioning.fault_context import (
    APART_K,
    FaultKind,
    Scene,
    Seen,
    SensorFault,
    limit_k,
    same_height,
)
from logger.conditioning.history import MEMORY_S
from logger.quantities import Position
from logger.words import Words

LATELY_S = 60.0
STEP_K = 3.0  # beyond what the others fell: 14 % of the way from a wall of 45 degC to the room
STEP_ALONE_K_PER_S = 5.0 / 30.0  # bare glass falls by 5 K/min when the flame goes out (computed)
ROOM_STEP_K = 5.0  # an opened window takes minutes for that

AT_ROOM_K = 2.0
WARM_K = 10.0  # above the room: there is something to follow
WARM_AFTER_S = 1800.0  # lit so long, every wall place has left the room's temperature
FAR_BELOW = 0.5  # of its twin's rise above the room

FAR_ABOVE_K = 20.0  # of every other place: 11 K over the whole height of the wall
PARTS_K = 5.0  # two sides within MEMORY_S
OWN_FALL_K = 2.0  # of it by the one that fell
COLD_C = 30.0  # without a room channel: warmer is not taken for cold
AT_REST_K = 1.0  # over the memory


def fell_off(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """At the room's temperature while the wall around it is warm."""
    around_c, room_c = scene.around_c(), scene.room_c
    if around_c is None or room_c is None or seen.channel.place.position is Position.BASE:
        return None
    if around_c < room_c + WARM_K or seen.value > room_c + AT_ROOM_K:
        return None
    was_warm = any(sample.value > room_c + 2.0 * AT_ROOM_K for sample in seen.history.samples)
    if not was_warm and (scene.lit_s is None or scene.lit_s < WARM_AFTER_S):
        return None
    lately = seen.history.within(scene.now_s - LATELY_S, scene.now_s)
    if any(sample.value > room_c + AT_ROOM_K for sample in lately):
        return None
    return SensorFault(
        kind=FaultKind.FELL_OFF,
        reason=f"it follows the room: {words.temperature(seen.value)} in a room of "
        f"{words.temperature(room_c)}, while the wall around it is at "
        f"{words.temperature(around_c)}",
        remedy="see whether it still touches the wall, and fasten it again",
        value=seen.value,
        expected=around_c,
    )


def stepped(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """It fell as glass cannot and the others did not, or stays far below its twin."""
    if scene.cold:
        return None  # a warm finger's mark fades as fast
    fell_k = -seen.history.step(scene.now_s)
    if fell_k > STEP_K:
        falls_k = [-other.history.step(scene.now_s) for other in scene.others]
        beyond_k = fell_k - max(0.0, median(falls_k)) if falls_k else 0.0
        step_s = seen.history.step_s
        if _came_back(seen, fell_k, scene):
            return None
        if beyond_k > STEP_K or fell_k > STEP_ALONE_K_PER_S * step_s:
            was_c = seen.value + fell_k
            return SensorFault(
                kind=FaultKind.KNOCKED if scene.lit else FaultKind.STEP,
                reason=f"it fell from {words.temperature(was_c)} to "
                f"{words.temperature(seen.value)} within {step_s:.0f} s, as glass cannot",
                remedy="see whether it was knocked aside, and put it back",
                value=seen.value,
                expected=was_c,
            )
    room_c = scene.room_c
    if room_c is None or not scene.lit:
        return None
    for twin in scene.twins(seen.channel):
        rise_k = twin.value - room_c
        short_k = (1.0 - FAR_BELOW) * rise_k
        if _doubtful(twin, seen, scene):
            continue
        if rise_k > WARM_K and lasting_gap_k(twin, seen, LATELY_S) > short_k:
            return SensorFault(
                kind=FaultKind.KNOCKED,
                reason=f"it reads {words.temperature(seen.value)}, far below the "
                f"{words.temperature(twin.value)} at {twin.channel.place}",
                remedy="see whether it touches the wall or looks at it, and put it back",
                value=seen.value,
                expected=twin.value,
            )
    return None


def room_stepped(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """The room jumps while something burns."""
    step_k = seen.history.step(scene.now_s)
    if not scene.lit or abs(step_k) < ROOM_STEP_K:
        return None
    return SensorFault(
        kind=FaultKind.STEP,
        reason=f"it went from {words.temperature(seen.value - step_k)} to "
        f"{words.temperature(seen.value)} within {seen.history.step_s:.0f} s, as no room does",
        remedy="see whether something warm or cold touches it",
        value=seen.value,
        expected=seen.value - step_k,
    )


def differs(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """Drift from a twin: at the same place, on the other side cold, or within minutes."""
    for twin in scene.twins(seen.channel):
        apart_k = seen.value - twin.value
        if abs(apart_k) > limit_k(seen, twin):
            same_place = seen.channel.place == twin.channel.place
            if _both_cold(seen, twin, scene):
                because, remedy = "cold, they should agree", "compare both in ice water"
            elif same_place and _lasts(seen, twin):
                because, remedy = "both look at one place", "see whether it touches the wall"
            else:
                because = ""
            if because:
                return SensorFault(
                    kind=FaultKind.DRIFT,
                    reason=f"it reads {words.temperature(seen.value)} and {twin.channel.name} "
                    f"{words.temperature(twin.value)}; {because}",
                    remedy=f"{remedy}, and correct or replace the one that is off",
                    value=seen.value,
                    expected=twin.value,
                )
        parted_k, fell_k = _parted(seen, twin)
        parted = parted_k > PARTS_K and fell_k > OWN_FALL_K
        if scene.lit and parted and not _came_back(seen, fell_k, scene):
            return SensorFault(
                kind=FaultKind.KNOCKED,
                reason=f"it fell by {words.difference(fell_k)} to {words.temperature(seen.value)} "
                f"within minutes, while {twin.channel.place} stayed at "
                f"{words.temperature(twin.value)}",
                remedy="see whether it comes off the wall, and fasten it",
                value=seen.value,
                expected=seen.value + parted_k,
            )
    return None


def far_above(seen: Seen, places: Iterable[Seen]) -> bool:
    """Whether it reads as if it saw the flame, by all other `places`; one says nothing of it."""
    others_c = [other.value for other in places if other is not seen]
    return len(others_c) > 1 and seen.value > max(others_c) + FAR_ABOVE_K


def other_side_below(upper: Seen, lower: Seen) -> bool:
    """Whether `lower` is at the height of `upper` elsewhere, and further below than doubt goes."""
    apart = same_height(upper.channel, lower.channel) and upper.channel.place != lower.channel.place
    return apart and upper.value - lower.value > limit_k(upper, lower)


def lasting_gap_k(upper: Seen, lower: Seen, for_s: float = MEMORY_S) -> float:
    """By how much `upper` was above `lower` at least, over the last `for_s`; 0 if not known."""
    now_s = upper.history.samples[-1].at_s
    ours, theirs = (one.history.within(now_s - for_s, now_s) for one in (upper, lower))
    if min(now_s - each[-1].at_s if each else 0.0 for each in (ours, theirs)) < 0.9 * for_s:
        return 0.0
    return min(a.value - b.value for a, b in zip(ours, theirs, strict=False))


def _doubtful(twin: Seen, seen: Seen, scene: Scene) -> bool:
    """Whether a twin comes down from a flame that it took for the wall: no measure of others."""
    ranges = twin.history.ranges()
    return far_above(twin, (*scene.others, seen)) or ranges is None or ranges > WARM_K


def _came_back(seen: Seen, fell_k: float, scene: Scene) -> bool:
    """Whether it had been far above every other place, and has come back among them."""
    around_c = scene.around_c()
    if around_c is None or seen.value < around_c:
        return False
    hottest_c = max(s.value for other in scene.others for s in other.history.samples)
    return seen.value + fell_k > hottest_c + WARM_K


def _both_cold(seen: Seen, twin: Seen, scene: Scene) -> bool:
    """Whether both have settled cold, and this one is further from the room than its twin."""
    at_rest = (seen.history.ranges(), twin.history.ranges())
    if not scene.cold or any(k is None or k > AT_REST_K for k in at_rest):
        return False
    if scene.room_c is None:
        return min(seen.value, twin.value) < COLD_C  # nothing says which: told of both
    off_k, twin_off_k = abs(seen.value - scene.room_c), abs(twin.value - scene.room_c)
    return twin_off_k < APART_K and off_k >= twin_off_k


def _lasts(seen: Seen, twin: Seen) -> bool:
    """Whether one has been below the other by as much for all of the memory."""
    return lasting_gap_k(twin, seen) > limit_k(seen, twin)


def _parted(seen: Seen, twin: Seen) -> tuple[float, float]:
    """By how much it went below its twin over the memory, and by how much it fell itself."""
    ours, theirs = seen.history.samples, twin.history.samples
    if max(sample.value for sample in ours) - seen.value < OWN_FALL_K:
        return 0.0, 0.0
    before_s = seen.history.samples[-1].at_s - MEMORY_S / 2.0
    before = {sample.at_s: sample.value for sample in theirs if sample.at_s < before_s}
    gaps = [
        (sample.value - before[sample.at_s], sample.value)
        for sample in ours
        if sample.at_s in before
    ]
    if len(gaps) < 6:
        return 0.0, 0.0
    gap_k, was_c = (median(column) for column in zip(*gaps, strict=True))
    return gap_k - (seen.value - twin.value), was_c - seen.value
