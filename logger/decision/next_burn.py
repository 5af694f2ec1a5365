"""The smallest next burn that would decide what is undecided."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.decision.in_trial import BurnInTrial
from logger.decision.missing import Missing
from logger.words import duration


@dataclass(frozen=True, slots=True, kw_only=True)
class NextBurn:
    """What to do to decide it, the longest need counting; nothing to burn where `length_s` is 0."""

    length_s: float
    do: tuple[str, ...]
    like: tuple[str, ...] = ()  # burns that lack something: another candle does them again
    burns_left: tuple[float, float] | None = None  # about so many, where the candle goes on

    @property
    def steps(self) -> tuple[str, ...]:
        """The same in words, one a line."""
        parts = []
        if self.like:
            parts.append(
                f"burn another candle as burn {', '.join(self.like)} of this trial, at the same "
                "part of its wax, with everything measured"
            )
        if self.length_s:
            parts.append(f"one burn of {duration(self.length_s)} or more")
        if self.burns_left is not None:
            low, high = (max(round(one), 1) for one in self.burns_left)
            about = str(low) if low == high else f"{low} to {high}"
            parts.append(f"about {about} more burn{'s' * (high > 1)} as before")
        return (*parts, *self.do)

    def __str__(self) -> str:
        return "; ".join(self.steps)


def smallest_next_burn(
    burns: Sequence[BurnInTrial], missing: Sequence[Missing], *, to_the_end: bool
) -> NextBurn | None:
    """Of what decides and is missing; None where nothing that a burn could show is."""
    deciding = [gap for gap in missing if gap.decides]
    if not deciding:
        return None
    again = {gap.burn for gap in deciding if gap.burn is not None}
    like = [one.evidence.burn.short_id for one in burns if one.evidence.burn.id in again]
    life = burns[-1].weighed.life if burns else None
    return NextBurn(
        length_s=max(gap.for_s for gap in deciding),
        do=tuple(dict.fromkeys(gap.do for gap in deciding if gap.do)),
        like=tuple(like),
        burns_left=life.burns_left if to_the_end and life is not None else None,
    )


FIRST_BURN = NextBurn(
    length_s=14_400.0,  # the usual test burn (common practice)
    do=("weigh the cold candle before it and after", "look at the candle at each mark"),
)
