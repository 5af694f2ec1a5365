"""[pure] A burn that is out, on one card: for its page and the terminal alike."""

from collections.abc import Iterator

from logger.burn.limits import WallLimits
from logger.burn.model import Burn
from logger.decision.verdict import Verdict
from logger.words import Words, duration


def card_lines(burn: Burn, wall: WallLimits, judged: Verdict, words: Words) -> Iterator[str]:
    """How long, how hot, how near to the limit, and the verdict so far."""
    if burn.out_s is not None:
        yield f"burned for {duration(burn.elapsed_s(burn.out_s))}"
    hottest, tightest = burn.hottest, burn.least_margin
    if hottest is None or tightest is None:
        yield "no place on the vessel was measured"
    else:
        figure = words.measured(
            hottest.value_c,
            hottest.standard_uncertainty_c,
            assumed=hottest.accuracy_assumed,
        )
        yield f"hottest measured place {figure}, {hottest.place}"
        margin_k = wall.limit_c - tightest.upper_c
        side = "below" if margin_k >= 0.0 else "OVER"
        yield (
            f"{words.difference(abs(margin_k))} {side} your limit of "
            f"{words.temperature(wall.limit_c)}, counting ±"
        )
    reasons = [one.reason for one in judged.judgements if one.outcome == judged.outcome]
    yield f"verdict on this burn: {judged.outcome}{': ' if reasons else ''}{'; '.join(reasons)}"
