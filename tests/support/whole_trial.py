"""A trial burned to the end of its wax, with all that a verdict asks for; tests spoil it."""

from dataclasses import dataclass, field, replace
from functools import cache

from logger.burn.candle_life import CandleLife
from logger.burn.consumption import Consumption
from logger.burn.entries import Observed
from logger.burn.look import Look
from logger.burn.stated import SELF_EXTINGUISHED, Circumstances, Ending
from logger.decision.in_trial import Makeup
from logger.decision.outlook import Outlook
from logger.decision.trial_rule import TrialEvidence, judge_trial
from logger.quantities import Position
from logger.settings.criterion_keys import default_criteria
from logger.words import Words
from tests.support.burn_from_formula import (
    BASE,
    LIT_S,
    ROOM,
    WALL_3,
    WALL_9,
    FormulaBurn,
    channel,
    warming,
)

LOW = channel("low", Position.WALL, height_mm=10.0, clock=3)
LEVEL_MM, WAX_G, HOURS = 60.0, 220.0, 4.0
GOOD = Look(
    flame_mm=(20.0,), soot=0, smoke=0, mushrooming=0, full_pool="yes", pool_depth_mm=8.0,
    wax_level_mm=LEVEL_MM, hang_up_mm=1.0,
)  # fmt: skip
AFTER = Look(after_smoke_s=5.0, reignited="no")


ALL = (WALL_3, WALL_9, LOW, BASE, ROOM)


@cache
def measured(peak_c=55.0, u=0.3, length_s=HOURS * 3600.0, channels=ALL, more=()):
    """The evidence of one burn, which all burns of a trial may share."""
    low = () if LOW not in channels else warming("low", 50.0, length_s=length_s, u=u)
    burn = FormulaBurn(peak_c=peak_c, u=u, length_s=length_s, channels=channels, more=(*low, *more))
    return burn.evidence()


@dataclass(kw_only=True, eq=False)
class OneBurn:
    """A burn of the trial; `look` is of while it burned, `after` of once it is out."""

    evidence: object = None
    look: Look | None = GOOD
    look_h: float = 3.0  # of it, after lighting
    after: Look | None = AFTER
    tester: str = "M6"
    regime: str = ""
    changes: dict = field(default_factory=dict)  # of its burn
    share: float | None = None  # of the wax gone half-way; None: as the burn's turn has it
    weighed: bool = True


def six(**last):
    """Six burns of one candle; the last goes out by itself."""
    ended = {"ending": Ending(ended=SELF_EXTINGUISHED)}
    return [*(OneBurn() for _ in range(5)), OneBurn(changes=ended, **last)]


def trial(burns, *, makeup=None, criteria=None, outlook=None, left=0.05, lots=("wax, lot A7",),
          rate=5.0, reach=0.2):  # fmt: skip
    """The evidence of a trial whose burns share out their candle's wax but for `left`."""
    found, weighed = [], {}
    for number, one in enumerate(burns):
        evidence = one.evidence or measured()
        id_ = f"jar-a-{int(LIT_S) + number}"
        of_candle = [other for other in burns if other.tester == one.tester]
        turn, whole = of_candle.index(one), len(of_candle)
        used = (1.0 - left) * (turn + 1) / whole
        burn = replace(
            evidence.burn,
            id=id_,
            number=number + 1,
            tester=one.tester,
            wax_level_mm=one.look.wax_level_mm if one.look else None,
            circumstances=Circumstances(regime=one.regime),
            **{
                "inner_diameter_mm": 75.0,
                "rested_s": None if turn == 0 else 20_000.0,
                **one.changes,
            },
        )
        at_s = {"look": LIT_S + one.look_h * 3600.0, "after": (burn.out_s or LIT_S) + 5.0}
        looks = tuple(
            Observed(at_s=at_s[which], entered_s=at_s[which], id=f"{id_}-{which}", station="jar-a",
                     look=getattr(one, which))
            for which in ("look", "after")
            if getattr(one, which)
        )  # fmt: skip
        found.append(
            replace(
                evidence,
                burn=burn,
                looks=looks,
                criteria=default_criteria() if criteria is None else criteria,
            )
        )
        weighed[id_] = Consumption() if not one.weighed else Consumption(
            used_share=one.share or (1.0 - left) * (turn + 0.5) / whole,
            used_after=used,
            wax_g=WAX_G,
            life=CandleLife(weighings=turn + 2, hours=HOURS * (turn + 1), rate_g_per_h=rate,
                            rate_reach_g_per_h=reach, burns_left=(2.0, 3.5)),
        )  # fmt: skip
    return TrialEvidence(
        burns=tuple(found),
        weighed=weighed,
        outlook=outlook or Outlook(text="too early"),
        makeup=makeup or Makeup(),
        lots=lots,
    )


def verdict_on(burns, **more):
    """The verdict on such a trial."""
    return judge_trial(trial(burns, **more), Words())


def outcome_of(verdict, name):
    """Of one criterion over the whole trial; None where nothing was found and nothing had to be."""
    return next((one.outcome for one in verdict.criteria if one.criterion.name == name), None)


def deciding(verdict):
    """What decides and is missing, in one text."""
    return " | ".join(gap.text for gap in verdict.missing if gap.decides)
