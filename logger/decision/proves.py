"""What one burn proves, also a stopped, interrupted or unweighed one, and what it leaves open."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.burn.consumption import Consumption
from logger.burn.evidence import LONGEST_GAP_S, BurnEvidence
from logger.burn.melt_pool import melt_pool
from logger.burn.model import Burn
from logger.burn.shared_pour import NOT_JUDGED
from logger.words import duration

SHORTEST_S = 300.0  # measured from lighting on: in less no wall has warmed (our choice)
VAGUE_SHARE = 0.5  # a rate known worse than to half of itself shows little (our choice)


class Proved(StrEnum):
    """How far a burn answers a question."""

    YES = "yes"
    IN_PART = "in part"
    NO = "no"
    NOT_YET = "not yet"  # it still can, once a person did something


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One question, whether the burn answers it, and the reason or the precision."""

    question: str
    proved: Proved
    remark: str = ""

    def __str__(self) -> str:
        return f"{self.question}: {self.proved}{', ' if self.remark else ''}{self.remark}"


def proofs(
    evidence: BurnEvidence, weighed: Consumption, of_trial: Sequence[Burn]
) -> tuple[Proof, ...]:
    """What the burn proves; `of_trial` are the burns of its trial."""
    if evidence.burn.withdrawn:
        withdrawn = Proof(question="anything", proved=Proved.NO, remark="its lighting is withdrawn")
        return (withdrawn,)
    return (
        _heat(evidence),
        _full_pool(evidence),
        _consumption(evidence.burn, weighed),
        *_replaces(evidence, of_trial),
    )


def proved_line(found: Sequence[Proof]) -> str:
    """All of it in one line."""
    return "; ".join(map(str, found))


def _heat(evidence: BurnEvidence) -> Proof:
    length_s = evidence.burn.elapsed_s(evidence.until_s)
    seen = [one for one in evidence.on_vessel if one.measured]
    automatic = [one for one in seen if not one.by_hand]
    if not seen:
        remark = "no place on the vessel was measured"
        if any(one.by_hand for one in evidence.on_vessel):
            remark = "its readings by hand are too few, or contradict one another"
        return Proof(question="heat", proved=Proved.NO, remark=remark)
    if not automatic:
        return Proof(
            question="heat",
            proved=Proved.IN_PART,
            remark="read by hand only: what it reached in between is not known",
        )
    lost = {
        one.channel.name: [gap for gap in one.gaps if gap.length_s > LONGEST_GAP_S]
        for one in automatic
    }
    known_s = min(
        (gaps[0].from_s - evidence.burn.lit_s for gaps in lost.values() if gaps), default=length_s
    )
    places = f"at {_places(len(automatic))}"
    if len(automatic) < len(evidence.automatic):
        places = f"at {len(automatic)} of {_places(len(evidence.automatic))}"
    if not any(lost.values()):
        return Proof(question=f"heat to {duration(length_s)}", proved=Proved.YES, remark=places)
    missing_s = max(sum(gap.length_s for gap in gaps) for gaps in lost.values())
    gaps = f"{duration(missing_s)} of {duration(length_s)} not measured"
    if known_s < SHORTEST_S:
        return Proof(question="heat", proved=Proved.IN_PART, remark=f"{places}, {gaps}")
    return Proof(
        question=f"heat to {duration(known_s)}", proved=Proved.YES, remark=f"{places}, later {gaps}"
    )


def _full_pool(evidence: BurnEvidence) -> Proof:
    burn = evidence.burn
    found = melt_pool(evidence.looks, burn.lit_s, burn.inner_diameter_mm)
    question = "full melt pool"
    if found.full_s is not None:
        remark = f"after {duration(found.full_s)}"
        return Proof(question=question, proved=Proved.YES, remark=remark)
    if found.short_s is None:
        return Proof(question=question, proved=Proved.NO, remark="not recorded")
    remark = f"short of the wall after {duration(found.short_s)}"
    return Proof(question=question, proved=Proved.NOT_YET if burn.lit else Proved.NO, remark=remark)


def _places(count: int) -> str:
    return f"{count} place{'s' * (count != 1)}"


def _consumption(burn: Burn, weighed: Consumption) -> Proof:
    rate, u = weighed.rate_g_per_h, weighed.rate_u_g_per_h
    if rate is not None and u is not None and rate > 2.0 * u:
        proved = Proved.YES if 2.0 * u <= VAGUE_SHARE * rate else Proved.IN_PART
        remark = f"±{200.0 * u / rate:.0f} %"
        return Proof(question="consumption", proved=proved, remark=remark)
    if weighed.used_g is not None:
        remark = "too little burned for the balance"
    elif burn.out_s is None:
        return Proof(question="consumption", proved=Proved.NOT_YET, remark="it still burns")
    elif weighed.before_g is not None and weighed.after_g is None:
        return Proof(
            question="consumption", proved=Proved.NOT_YET, remark="it needs a cold weighing"
        )
    else:
        remark = (
            "not weighed before lighting"
            if weighed.before_g is None
            else "more gone than was poured"
        )
    return Proof(question="consumption", proved=Proved.NO, remark=remark)


def _replaces(evidence: BurnEvidence, of_trial: Sequence[Burn]) -> Iterator[Proof]:
    """Whether it stands for a burn of the full length, as a burn to the maker's longest does."""
    burn, limits = evidence.burn, evidence.limits
    if burn.out_s is None:
        return
    if burn.shared_pour:
        question = ", ".join(NOT_JUDGED)
        yield Proof(question=question, proved=Proved.NO, remark="not judged on a shared pour")
        return
    of_candle = sum(
        one.candle == burn.candle and one.lit_s <= burn.lit_s and not one.withdrawn
        for one in of_trial
    )
    question = f"counts as burn {max(of_candle, 1)} of this candle"
    length_s = burn.elapsed_s(evidence.until_s)
    if burn.danger is not None:
        yield Proof(question=question, proved=Proved.NO, remark="it ended in an emergency")
    elif length_s >= limits.burn_length_s - limits.burn_notice_s:
        yield Proof(question=question, proved=Proved.YES)
    else:
        remark = f"it burned for {duration(length_s)} of {duration(limits.burn_length_s)}"
        yield Proof(question=question, proved=Proved.NO, remark=remark)
