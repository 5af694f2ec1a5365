"""[pure] What differs between two trials each, in lines for a person."""

from dataclasses import dataclass

from logger.decision.compared import FIGURES
from logger.reports.comparison_messages import ComparisonMessage


@dataclass(frozen=True, slots=True, kw_only=True)
class PairLine:
    """What is said of one figure of two trials."""

    text: str
    clear: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPair:
    """Two trials and what differs, for a person."""

    one: str
    other: str
    lines: tuple[PairLine, ...]


def pairs(found: ComparisonMessage) -> list[TrialPair]:
    """What is said of two trials each; the margin is the peak turned round, and left out."""
    lines: dict[tuple[str, str], list[PairLine]] = {}
    for one in found["differences"]:
        if one["figure"] != "margin":
            of_pair = lines.setdefault((one["one"], one["other"]), [])
            title = "" if one["not_comparable"] else f"{FIGURES[one['figure']]}: "
            said = PairLine(text=f"{title}{one['text']}", clear=one["clear"])
            if said not in of_pair:
                of_pair.append(said)
    return [
        TrialPair(one=one, other=other, lines=tuple(said)) for (one, other), said in lines.items()
    ]
