"""Faults that a channel shows by itself: values that cannot be, and a number that stands still."""

from logger.conditioning.scene import Fault, FaultKind, Figures, Scene, Seen, plausible
from logger.quantities import Quantity, Transducer

POWER_ON_C = 85.0  # of the common digital 1-Wire thermometer (its data sheet)
POWER_ON_REPEATS = 2  # three exact ones in a row

STILL_S, STILL_REPEATS = 90.0, 30  # noise of 0.7 steps stays so with a chance of 0.5^30
FLICKERED = 0.72  # of the readings; noise far below a step at its edge flickers in half of them
STILL_OTHERS_S, STILL_OTHERS_K = 300.0, 8.0  # a display of 1 K has changed by then


def impossible(seen: Seen, scene: Scene, words: Figures) -> Fault | None:
    """Out of range, power-on value, or a window in which most readings cannot be of the place."""
    channel, history = seen.channel, seen.history
    number = history.number or 0.0
    celsius = channel.quantity is Quantity.TEMPERATURE and channel.transducer is Transducer.NONE
    said_c = channel.unit.inside(number) if celsius else None
    lasting = history.impossible(scene.now_s)
    settled = channel.quantity is Quantity.TEMPERATURE and not plausible(seen.value)
    if said_c == POWER_ON_C and history.repeats >= POWER_ON_REPEATS and history.ill():
        return Fault(
            kind=FaultKind.POWER_ON,
            reason=f"it sends exactly {words.of(POWER_ON_C)}, as a 1-Wire sensor does that has "
            "not measured",
            remedy="check its supply and pull-up",
            value=POWER_ON_C,
        )
    if settled or (lasting and said_c is not None and not plausible(said_c)):
        said_c = seen.value if settled or said_c is None else said_c
        return Fault(
            kind=FaultKind.OUT_OF_RANGE,
            reason=f"it reads {words.of(said_c)}, which no place here can have",
            remedy="check plug, lead and probe: a broken or shorted lead reads like this",
            value=said_c,
        )
    if not lasting:
        return None
    if history.restless(scene.now_s):
        reason = "its readings jump again and again, as nothing that touches glass does"
        remedy = "look for a loose contact, and fasten it"
    else:
        reason = "most of its readings cannot be of this place"
        remedy = "see whether it looks at the flame or hangs loose; aim or fasten it"
    return Fault(
        kind=FaultKind.IMPOSSIBLE,
        reason=f"{reason}; the latest is {number:g}",
        remedy=remedy,
        value=said_c,
    )


def stuck(seen: Seen, scene: Scene, words: Figures) -> Fault | None:
    """The same number though it used to flicker, or though the wall around it moves.

    A display so coarse that its noise does not show is not expected to flicker.
    """
    history = seen.history
    still_s = scene.now_s - history.since_s
    if still_s < STILL_S or history.number is None:
        return None
    around_c = scene.around_c()
    moved_k = 0.0
    if around_c is not None and history.others_c is not None:
        moved_k = abs(around_c - history.others_c)
    if history.repeats >= STILL_REPEATS and history.flickered >= FLICKERED:
        though = "though it flickered before"
    elif still_s >= STILL_OTHERS_S and moved_k >= STILL_OTHERS_K and history.repeats > 2:
        though = f"though the wall around it moved by {words.spread(moved_k)}"
    else:
        return None
    return Fault(
        kind=FaultKind.STUCK,
        reason=f"it sends nothing but {history.number:g} for {still_s:.0f} s, {though}",
        remedy="unplug it and plug it in again; if that does not help, take another",
        value=seen.value,
    )
