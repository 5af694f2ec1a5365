"""[pure] What a burn tells of wax, wall and itself, as the JSON objects that HTTP hands out."""

from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.candle_life import CandleLife
from logger.burn.consumption import Consumption
from logger.burn.coverage import PartState, WallCoverage, never_measured
from logger.burn.wax_words import wax_lines
from logger.decision.proves import Proof, Proved
from logger.messages import rounded
from logger.words import Words


class CandleLifeMessage(TypedDict):
    """What all weighings of the candle up to the end of the burn tell together."""

    weighings: int
    hours: Annotated[float, Doc("burned between the first of them and the last")]
    rate_g_per_h: Annotated[float, Doc("by a line through mass over hours burned")]
    rate_reach_g_per_h: Annotated[float, Doc("half-width of its 95 % interval")]
    used_share: Annotated[float | None, Doc("of all its wax, after the last of them")]
    left_g: float | None
    burns_left: Annotated[
        list[float] | None,
        Doc(
            "from, to: as long as those so far, were all wax to burn; null while too early; "
            "0, 0 once it went out by itself"
        ),
    ]


def candle_life(found: CandleLife) -> CandleLifeMessage:
    """What all weighings of a candle tell together."""
    return {
        "weighings": found.weighings,
        "hours": rounded(found.hours),
        "rate_g_per_h": rounded(found.rate_g_per_h),
        "rate_reach_g_per_h": rounded(found.rate_reach_g_per_h),
        "used_share": rounded(found.used_share),
        "left_g": rounded(found.left_g),
        "burns_left": None
        if found.burns_left is None
        else [rounded(burns) for burns in found.burns_left],
    }


class WeighedMessage(TypedDict):
    """What weighing the cold candle tells of a burn; null where it was not weighed."""

    before_g: float | None
    after_g: float | None
    used_g: float | None
    rate_g_per_h: float | None
    rate_standard_uncertainty_g_per_h: float | None
    used_share: Annotated[
        float | None,
        Doc(
            "of all its wax, gone half-way through the burn; null where the wax that "
            "was poured was not entered"
        ),
    ]
    by_balance: Annotated[bool, Doc("the candle stood on a balance instead of being weighed")]
    life: CandleLifeMessage | None
    words: Annotated[list[str], Doc("the same for a person, in the bench's units")]


def weighed(found: Consumption, words: Words) -> WeighedMessage:
    """What weighing tells of a burn."""
    return {
        "before_g": rounded(found.before_g),
        "after_g": rounded(found.after_g),
        "used_g": rounded(found.used_g),
        "rate_g_per_h": rounded(found.rate_g_per_h),
        "rate_standard_uncertainty_g_per_h": rounded(found.rate_u_g_per_h),
        "used_share": rounded(found.used_share),
        "by_balance": found.by_balance,
        "life": None if found.life is None else candle_life(found.life),
        "words": list(wax_lines(found, words)),
    }


class ProofMessage(TypedDict):
    """A question, and whether the burn answers it."""

    question: str
    proved: Proved
    remark: Annotated[str, Doc("the reason, or how precisely")]
    text: str


def proof(found: Proof) -> ProofMessage:
    """A question, and whether the burn answers it."""
    return {
        "question": found.question,
        "proved": found.proved,
        "remark": found.remark,
        "text": str(found),
    }


class WallPartMessage(TypedDict):
    """A band of the wall on one side."""

    from_mm: Annotated[float, Doc("above the outside base")]
    to_mm: float
    clock: Annotated[int, Doc("the middle of its quarter")]
    seen: PartState
    share: Annotated[float, Doc("of the burn, by the instrument that saw most of it")]


class WallCoverageMessage(TypedDict):
    """Which parts of the wall were measured in the burn."""

    parts: list[WallPartMessage]
    rim_known: Annotated[bool, Doc("false: above the highest part nothing is known")]
    never: Annotated[str, Doc("what nobody measured, in words; empty where every part was")]


def coverage_message(found: WallCoverage, words: Words) -> WallCoverageMessage:
    """Which parts of the wall were measured."""
    return {
        "parts": [
            {
                "from_mm": rounded(part.low_mm),
                "to_mm": rounded(part.high_mm),
                "clock": part.side,
                "seen": part.seen,
                "share": rounded(part.share),
            }
            for part in found.parts
        ],
        "rim_known": found.rim_known,
        "never": never_measured(found, words),
    }
