"""Faults that a channel shows by itself: impossible values, and one that does not change."""

from logger.conditioning.fault_context import (
    FaultKind,
    Scene,
    Seen,
    SensorFault,
    plausible,
)
from logger.quantities import Channel, Quantity, Transducer
from logger.words import Words

POWER_ON_C = 85.0  # of the common digital 1-Wire thermometer (its data sheet)
POWER_ON_REPEATS = 2  # three exact ones in a row

STILL_S, STILL_REPEATS = 90.0, 30  # noise of 0.7 steps stays so with a chance of 0.5^30
FLICKERED = 0.72  # of the readings; noise far below a step at its edge flickers in half of them
STILL_FINE_S, FINE_K = 300.0, 0.2  # draughts move a wall by more than a fine step in that time
STILL_OTHERS_S = 300.0
STILL_OTHERS = 8.0 / 3.0  # times the slowest place's move as others move (see `neighbour_faults`)
COARSEST_K = 1.0  # of a display whose step was neither stated nor seen


def said_c(channel: Channel, number: float) -> float | None:
    """What a channel displays, degC; None where its number is no temperature."""
    celsius = channel.quantity is Quantity.TEMPERATURE and channel.transducer is Transducer.NONE
    return channel.unit.inside(number) if celsius else None


def impossible(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """Out of range, power-on value, or a window in which most readings cannot be of the place."""
    channel, history = seen.channel, seen.history
    number = history.number or 0.0
    said = said_c(channel, number)
    lasting = history.impossible(scene.now_s)
    settled = channel.quantity is Quantity.TEMPERATURE and not plausible(seen.value)
    if said == POWER_ON_C and history.repeats >= POWER_ON_REPEATS and history.ill():
        return SensorFault(
            kind=FaultKind.POWER_ON,
            reason=f"it sends exactly {words.temperature(POWER_ON_C)}, as a 1-Wire sensor does "
            "that has not measured",
            remedy="check its supply and pull-up",
            value=POWER_ON_C,
        )
    if settled or (lasting and said is not None and not plausible(said)):
        said = seen.value if settled or said is None else said
        return SensorFault(
            kind=FaultKind.OUT_OF_RANGE,
            reason=f"it reads {words.temperature(said)}, which no place here can have",
            remedy="check plug, lead and probe: a broken or shorted lead reads like this",
            value=said,
        )
    if not lasting:
        return None
    if history.restless(scene.now_s):
        reason = "its readings jump again and again, as nothing that touches glass does"
        remedy = "look for a loose contact, and fasten it"
    else:
        reason = "most of its readings cannot be of this place"
        remedy = "see whether it looks at the flame or hangs loose; aim or fasten it"
    latest = f"{number:g}" if said is None else words.temperature(said)
    hot = said is not None and said > seen.value
    other = ", or the wall really is this hot: go to the candle" if hot else ""
    return SensorFault(
        kind=FaultKind.IMPOSSIBLE,
        reason=f"{reason}; the latest is {latest}{other}",
        remedy=remedy,
        value=said,
    )


def stuck(seen: Seen, scene: Scene, words: Words) -> SensorFault | None:
    """The same number though it used to flicker, is a fine one, or the wall around it moves.

    A display so coarse that its noise does not show is not expected to flicker: whether it stands
    still can only be told by what stands around it.
    """
    history, step_k = seen.history, _step_k(seen)
    still_s = scene.now_s - history.since_s
    if still_s < STILL_S or history.number is None:
        return None
    around_c = scene.around_c()
    moved_k = 0.0
    if around_c is not None and history.others_c is not None:
        moved_k = abs(around_c - history.others_c)
    if history.repeats >= STILL_REPEATS and history.flickered >= FLICKERED:
        though = "though it flickered before"
    elif still_s >= STILL_FINE_S and history.repeats > 2 and step_k <= FINE_K and scene.lit:
        though = "though a wall in use is never so still"
    elif (
        still_s >= STILL_OTHERS_S
        and moved_k > STILL_OTHERS * (min(step_k, COARSEST_K) + 0.5)
        and history.repeats > 2
    ):
        though = f"though the wall around it moved by {words.difference(moved_k)}"
    else:
        return None
    return SensorFault(
        kind=FaultKind.STUCK,
        reason=f"it sends nothing but {history.number:g} for {still_s:.0f} s, {though}",
        remedy="unplug it and plug it in again; if that does not help, take another",
        value=seen.value,
    )


def _step_k(seen: Seen) -> float:
    """Step of its display: stated, or the smallest change that it ever showed."""
    channel = seen.channel
    if channel.resolution is not None:
        return channel.resolution
    return abs(channel.unit.inside(seen.history.finest) - channel.unit.inside(0.0))
