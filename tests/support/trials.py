"""Trials as values: burns with a peak, a room and looks, judged by nothing but what is given."""

from dataclasses import replace

from logger.burn.entries import Observed
from logger.burn.evidence import BurnEvidence
from logger.burn.heat import in_warmest_room
from logger.burn.limits import Limits, Material, WallLimits
from logger.burn.look import Look
from logger.burn.model import Hottest
from logger.burn.stated import Circumstances
from logger.decision.criteria import Outcome
from logger.decision.outlook import Outlook
from logger.decision.trial_facts import TrialFacts
from logger.decision.trial_rule import TrialEvidence, judge_trial
from logger.quantities import Place, Position
from logger.words import Words
from tests.support.weighed_burns import HOUR, evening

LIMITS = Limits(
    burn_length_s=4 * HOUR,
    burn_notice_s=900.0,
    cool_down_s=4 * HOUR,
    room_low_c=20.0,
    room_high_c=27.0,
    wall={Material.GLASS: WallLimits(alert_c=57.0, limit_c=60.0)},
)
WALL = Place(position=Position.WALL, height_mm=60.0, clock=3)


def burned(
    number, peak_c=None, u_k=0.5, *, room_c=22.0, level_mm=None, full_s=(), looks=(), **burn
):
    """The burn of an evening as it is judged; `full_s` are looks short of the wall and at it."""
    one = evening(number, **burn)
    if level_mm is not None:
        one = replace(one, circumstances=Circumstances(wax_level_mm=level_mm))
    warmest = None
    if peak_c is not None:
        at_s = one.lit_s + 3 * HOUR
        hottest = Hottest(
            channel="wall", place=WALL, value_c=peak_c, standard_uncertainty_c=u_k, at_s=at_s
        )
        one = replace(one, hottest=hottest, least_margin=hottest)
        warmest = None if room_c is None else in_warmest_room(peak_c, u_k, room_c, 0.1)
    seen = [(at_s, Look(full_pool=("no", "yes")[n])) for n, at_s in enumerate(full_s)]
    return BurnEvidence(
        burn=one,
        limits=LIMITS,
        until_s=one.out_s,
        warmest=warmest,
        looks=tuple(
            Observed(
                at_s=one.lit_s + at_s, entered_s=one.lit_s + at_s, id=f"look-{at_s:.0f}",
                station=one.station, look=look,
            )
            for at_s, look in (*seen, *looks)
        ),
    )  # fmt: skip


def trial(name, *burns, outcome=None, **more):
    """A trial of these burns; its verdict is theirs, or as it is given."""
    renamed = tuple(
        replace(one, burn=replace(one.burn, trial=name, id=f"{name}-{one.burn.id}"))
        for one in burns
    )
    known = TrialEvidence(burns=renamed, weighed={}, outlook=Outlook(text=""))
    verdict = judge_trial(known, Words())
    if outcome is not None:
        verdict = replace(verdict, outcome=Outcome(outcome))
    return TrialFacts(
        name=name,
        words=Words(),
        burns=renamed,
        verdict=verdict,
        **more,
    )
