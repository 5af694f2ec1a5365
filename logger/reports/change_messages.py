"""[pure] Which verdicts rest on other lots than those of now, as JSON and in lines."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.trials import name_key
from logger.decision.change import Lot, LotCheck, LotPart, MadeCandle
from logger.decision.criteria import Outcome

PRACTICE = "common practice among makers; [plan.retest] may ask for more"


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedLots:
    """A trial that was burned: its verdict, the lots that it rests on, and what has changed."""

    trial: str
    outcome: Outcome
    candles: Sequence[MadeCandle]
    check: LotCheck

    def hangs_on(self, lot: str) -> bool:
        """Whether any of its candles was made of a lot of that name."""
        wanted = name_key(lot)
        return any(
            name_key(one.lot) == wanted for candle in self.candles for one in candle.lots.values()
        )


class LotMessage(TypedDict):
    """What a part was; "" is not recorded."""

    name: str
    lot: str
    supplier: str


class ChangedLotMessage(TypedDict):
    """A part that is no longer the one that was judged."""

    part: LotPart
    judged: LotMessage
    now: LotMessage
    retest: Annotated[str, Doc("one-burn, two-burns, to-the-end or new-trial")]
    words: Annotated[str, Doc("what to burn again: " + PRACTICE)]
    why: str
    begun: Annotated[list[str], Doc("testers of the lot of now that have burned, not yet enough")]


class JudgedLotsMessage(TypedDict):
    """A verdict, and what of its lots has changed since."""

    trial: str
    verdict: Outcome
    lots: Annotated[dict[str, list[LotMessage]], Doc("that it rests on, by part")]
    holds: Annotated[bool, Doc("for the lots of now, as far as they are recorded")]
    changes: list[ChangedLotMessage]
    not_known: Annotated[list[LotPart], Doc("whose lot was not recorded then, or is not now")]


class LotsMessage(TypedDict):
    """Every verdict with the lots that it rests on."""

    trials: list[JudgedLotsMessage]


def change_message(found: Sequence[JudgedLots]) -> LotsMessage:
    """All of `found`."""
    return {"trials": [_judged(one) for one in found]}


def _judged(one: JudgedLots) -> JudgedLotsMessage:
    lots: dict[str, dict[Lot, None]] = {}
    for candle in one.candles:
        for part, lot in candle.lots.items():
            lots.setdefault(part, {})[lot] = None
    return {
        "trial": one.trial,
        "verdict": one.outcome,
        "lots": {part: [_lot(lot) for lot in of_part] for part, of_part in lots.items()},
        "holds": not one.check.changes,
        "changes": [
            {
                "part": change.part,
                "judged": _lot(change.judged),
                "now": _lot(change.now),
                "retest": change.retest.written,
                "words": change.retest.words,
                "why": change.why,
                "begun": list(change.begun),
            }
            for change in one.check.changes
        ],
        "not_known": list(one.check.not_known),
    }


def _lot(lot: Lot) -> LotMessage:
    return {"name": lot.name, "lot": lot.lot, "supplier": lot.supplier}


def change_lines(found: Sequence[JudgedLots]) -> Iterator[str]:
    """A line for each change and its reason; then which lots nobody recorded."""
    for one in found:
        for change in one.check.changes:
            yield f"{one.trial} ({one.outcome}): {change.text}"
            yield f"  why: {change.why} ({PRACTICE})"
    if not any(one.check.changes for one in found):
        yield "every verdict holds for the lots of now, as far as lots are recorded"
    for one in found:
        if one.check.not_known:
            yield (
                f"{one.trial}: lot not recorded ({', '.join(one.check.not_known)}): "
                "whether it changed is not known"
            )
