"""[pure] What lies ahead of a station: looks, the end of its burn, the cool-down."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn.cool_down import cool_down, cool_down_lines, room_now_c
from logger.burn.marks import BurnMark, marks
from logger.burn.model import Burn, BurnPhase, BurnStatus
from logger.web.bench_service import BenchService
from logger.web.place_views import PlaceView
from logger.web.texts import gettext as _
from logger.words import duration


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """Something that lies ahead, with its time."""

    at_s: float
    words: str


def coming(
    bench: BenchService,
    status: BurnStatus,
    burn: Burn | None,
    again_s: float | None,
    now_s: float,
) -> tuple[Coming, ...]:
    """The end of the burn, and when it may be lit again (`again_s`)."""
    limits = bench.settings.limits
    if status.phase is BurnPhase.LIT and status.lit_s is not None:
        length_s = limits.burn_length_s if burn is None else burn.longest_s(limits)
        if length_s < limits.burn_length_s:
            over = _("put it out: your planned length is over")
        else:
            over = _("put it out: your longest burn is over")
        end_s = status.lit_s + length_s
        found = [
            Coming(
                at_s=end_s - limits.burn_notice_s,
                words=_("notice: %(time)s left", time=duration(limits.burn_notice_s)),
            ),
            Coming(at_s=end_s, words=over),
            Coming(
                at_s=max(end_s, now_s) + limits.cool_down_s,
                words=_(
                    "may be lit again, after %(time)s of cooling",
                    time=duration(limits.cool_down_s),
                ),
            ),
        ]
        return tuple(one for one in found if one.at_s > now_s)
    if status.phase is BurnPhase.COOLING and again_s is not None:
        words = _("may be lit again, once the wax is solid throughout")
        return (Coming(at_s=again_s, words=words),)
    return ()


def marks_of(bench: BenchService, burn: Burn | None, now_s: float) -> tuple[BurnMark, ...]:
    """Every mark of a burn, and what became of it."""
    if burn is None:
        return ()
    looked_s = [at_s - burn.lit_s for at_s in burn.looked_s]
    elapsed_s = burn.elapsed_s(now_s)
    marks_s = bench.settings.marks.of(burn.circumstances.regime)
    return tuple(marks(marks_s, looked_s, elapsed_s, lit=burn.lit))


def cooling(
    bench: BenchService,
    status: BurnStatus,
    burn: Burn | None,
    places: Sequence[PlaceView],
    now_s: float,
) -> tuple[str, ...]:
    """How far the cool-down is; nothing while it burns, or once it was cold and weighed."""
    if burn is None or not (status.phase is BurnPhase.COOLING or to_weigh(burn)):
        return ()
    known = [(one.channel, one.estimate) for one in places if one.estimate is not None]
    hottest_c = None if status.hottest is None else status.hottest.value_c
    room_c = room_now_c(known)
    found = cool_down(burn, bench.settings.limits, now_s, hottest_c, room_c)
    return tuple(cool_down_lines(found, bench.settings.words)) if found else ()


def to_weigh(burn: Burn) -> bool:
    """Whether it was weighed before its burn, and not yet since."""
    return burn.mass_before_g is not None and burn.mass_after_g is None
