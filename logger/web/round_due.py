"""[pure] When a burning candle is to be read by hand again."""

from logger.burn.model import BurnPhase, BurnStatus
from logger.web.bench_service import BenchService
from logger.web.texts import gettext as _
from logger.words import duration


def due_s(bench: BenchService, status: BurnStatus) -> float | None:
    """When the places of a burning candle are to be read by hand again.

    None where none burns, or where instruments read it and nobody did.
    """
    if status.phase is not BurnPhase.LIT or status.lit_s is None:
        return None
    vessel = [one for one in bench.settings.channels if one.station == status.station]
    read_s = [
        estimate.at_s
        for name, channel in bench.hub.by_hand.items()
        if channel.station == status.station
        and (estimate := bench.hub.estimates.get(name)) is not None
        and estimate.at_s >= status.lit_s
    ]
    if not read_s and any(one.on_vessel for one in vessel):
        return None
    return max(read_s, default=status.lit_s) + bench.settings.bench.round_every_s


def due_words(due_at_s: float | None, now_s: float) -> str:
    """The countdown to the next round."""
    if due_at_s is None:
        return ""
    left_s = due_at_s - now_s
    if left_s > 0.0:
        return _("next reading round in %(time)s", time=duration(left_s))
    return _("READING ROUND OVERDUE by %(time)s: read the wall by hand now", time=duration(-left_s))
