"""What to try next: stay, a size up or down, more wicks, another vessel, stop; and why.

The rules are common practice of makers, put so that none of them leads to a hotter glass unseen.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.burn.entries import Danger
from logger.decision.criteria import Judgement, Outcome
from logger.decision.heat_criteria import WALL_LIMIT
from logger.decision.in_trial import BurnInTrial, used_after
from logger.decision.outlook import Outlook
from logger.decision.signs import Sign, signs, still_to_come_c
from logger.words import Words

HALF = 0.5  # of the wax: before, a small melt pool may still grow (common practice)
WIDE_MM = 90.0  # inner diameter from which two wicks are usual (common practice: 3.5 to 4 in)
_STOPS = frozenset({Danger.FLASH_OVER, Danger.FLAME_ON_WALL, Danger.OTHER})


class Step(StrEnum):
    """What to try next."""

    STAY = "stay"
    ONE_UP = "one size up"
    ONE_DOWN = "one size down"
    MORE_WICKS = "more wicks"
    ANOTHER_VESSEL = "another vessel"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """One step, with what speaks for it and what against."""

    step: Step
    reason: str
    hot: tuple[Sign, ...] = ()
    cold: tuple[Sign, ...] = ()
    expected: str = ""  # of the last quarter of the wax, with every size up
    wick: str = ""  # that the step leads to, where the shelf has it

    @property
    def conflicting(self) -> bool:
        """Whether signs of too large and of too small a wick were found."""
        return bool(self.hot and self.cold)


def next_step(
    burns: Sequence[BurnInTrial],
    judgements: Sequence[Judgement],
    outlook: Outlook,
    outcome: Outcome,
    words: Words,
) -> NextStep:
    """What to try next after these burns of a trial."""
    found = signs(burns, judgements, outlook, words)
    hot = tuple(one for one in found if one.hot)
    cold = tuple(one for one in found if not one.hot)
    over = _over(burns, outlook, words)
    step, reason = _step(burns, judgements, outcome, hot=hot, cold=cold, over=over)
    return NextStep(
        step=step,
        reason=reason,
        hot=hot,
        cold=cold,
        expected=outlook.text if step is Step.ONE_UP else "",
        wick=_wick(step, burns),
    )


def _step(
    burns: Sequence[BurnInTrial],
    judgements: Sequence[Judgement],
    outcome: Outcome,
    *,
    hot: tuple[Sign, ...],
    cold: tuple[Sign, ...],
    over: str,
) -> tuple[Step, str]:
    dangers = [danger for one in burns if (danger := one.evidence.burn.danger) is not None]
    if Danger.CRACK in dangers:
        return Step.ANOTHER_VESSEL, "the vessel cracked: light none of its lot again"
    if stops := [one for one in dangers if one in _STOPS]:
        return Step.STOP, f"{stops[0].words}: do not light this candle again"
    if Danger.FLAME_TOO_HIGH in dangers:
        return Step.ONE_DOWN, "the flame was too high: do not light this candle again"
    if outcome in (Outcome.PASS, Outcome.WORTH_MAKING):
        next_ = "worth a candle of its own" if outcome is Outcome.WORTH_MAKING else "it passed"
        return Step.STAY, f"{next_}; what the pour, the lots or the room change is not covered"
    if hot and cold:
        return _conflicting(burns, judgements, over)
    if hot:
        if outcome is Outcome.FAIL or len(hot) > 1:
            return Step.ONE_DOWN, "what was seen and measured speaks for too large a wick"
        return Step.STAY, "one sign of heat alone: burn on and see whether another comes"
    if cold:
        return _up(burns, cold, over)
    return Step.STAY, "nothing speaks against this wick so far: burn on"


def _conflicting(
    burns: Sequence[BurnInTrial], judgements: Sequence[Judgement], over: str
) -> tuple[Step, str]:
    told = "signs of too large and of too small a wick contradict one another"
    used = used_after(burns)
    if over and used is not None and used >= HALF:
        return _instead(burns), f"{told}, and a size up is withheld: {over}"
    if not any(one.outcome is Outcome.FAIL for one in judgements):
        return Step.STAY, f"{told}: burn on, in still air, and look again"
    if any(one.outcome is Outcome.FAIL and one.criterion is WALL_LIMIT for one in judgements):
        return _instead(burns), f"{told}: its wall gets too hot before its wax melts"
    if _instead(burns) is Step.MORE_WICKS:
        return Step.MORE_WICKS, f"{told}, and the vessel is wide: try two smaller wicks"
    return Step.STAY, f"{told}: look for a draught or a wick that leans, and repeat the burn"


def _instead(burns: Sequence[BurnInTrial]) -> Step:
    """Where neither a larger nor a smaller wick will do."""
    diameter_mm = burns[-1].evidence.burn.inner_diameter_mm
    wide = diameter_mm is not None and diameter_mm >= WIDE_MM
    return Step.MORE_WICKS if wide and burns[-1].makeup.wicks == 1 else Step.ANOTHER_VESSEL


def _up(burns: Sequence[BurnInTrial], cold: tuple[Sign, ...], over: str) -> tuple[Step, str]:
    used, urgent = used_after(burns), any(one.urgent for one in cold)
    if not urgent and (used is None or used < HALF):
        gone = "how much is not known" if used is None else f"so far {100.0 * used:.0f} %"
        return Step.STAY, (
            f"it looks too small, but no size up before half of the wax is gone ({gone}): the last "
            "quarter is the hottest. Burn on"
        )
    if over:
        return _instead(burns), f"too small, but a size up is withheld: {over}"
    reason = "drowning or tunnelling" if urgent else "it stays too small past half of its wax"
    return Step.ONE_UP, f"{reason}; a larger wick gets hotter than the peak expected of this one"


def _over(burns: Sequence[BurnInTrial], outlook: Outlook, words: Words) -> str:
    """Why a larger wick would pass the limit: this one does, or may; empty where nothing says so.

    Counting the uncertainty, of what was measured and of what the last quarter is expected to
    reach.
    """
    limit_c = burns[-1].evidence.limits.of(burns[-1].evidence.burn.material).limit_c
    least = [one.evidence.burn.least_margin for one in burns]
    measured_c = max((one.upper_c for one in least if one is not None), default=limit_c)
    if measured_c > limit_c:
        return f"with this one the wall reached {words.temperature(measured_c)}, counting its ±"
    coming_c = still_to_come_c(burns, outlook)
    if coming_c is not None and coming_c > limit_c:
        return f"the last quarter may reach {words.temperature(coming_c)} with this one"
    return ""


def _wick(step: Step, burns: Sequence[BurnInTrial]) -> str:
    """The neighbour in the series, by the orders on the shelf."""
    makeup, by = burns[-1].makeup, {Step.ONE_UP: 1, Step.ONE_DOWN: -1}.get(step)
    if by is None or makeup.wick is None or makeup.wick.order is None:
        return ""
    order = makeup.wick.order + by
    return next((one.name for one in makeup.series if one.order == order), "")
