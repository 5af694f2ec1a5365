"""[pure] The card for whoever buys the candle: figures of the verdict, in words of our own."""

from collections.abc import Iterator

from logger.burn.evidence import BurnEvidence
from logger.decision.criteria import Outcome
from logger.decision.trial_facts import TrialFacts
from logger.errors import Refused
from logger.reports.blocks import Block, Document, Heading, Items, Paragraph
from logger.reports.si_beside import SiBeside
from logger.words import duration

_STEP_S = 1800.0  # burn times are said in half hours, never rounded up (our choice)
_LEFT_MM = 12.0  # of wax: half an inch (common practice), where the burns do not ask for more
_SHORTEST_S = 2.0 * _STEP_S
IN_SIGHT = (
    "Stay in the room while it burns, and keep it in sight.",
    "Keep it away from everything that can burn, with nothing above it.",
    "Keep it where children and pets cannot reach it.",
)
ALWAYS = (
    "Stand it on a level surface that heat does not harm, out of draughts.",
    "The vessel and the wax get hot: do not touch or move it until it is cold.",
    "Put it out with a snuffer or a flat metal lid. Never use water.",
    "Let no match or piece of wick lie in the wax. Do not light it if the vessel is cracked.",
)
LOCAL_LAW = (
    "What a label must say is a matter of local law: ask for it where the candle is sold. "
    "This card is no such label."
)


def care_card(facts: TrialFacts, maker: str, foot: str, at_s: float) -> Document:
    """The card. Raises Refused where the verdict is not a pass: then there are no figures for it.

    `foot` is what stands below, `at_s` up to when the verdict knows.
    """
    verdict = facts.verdict
    if verdict.outcome is not Outcome.PASS:
        reason = "" if verdict.deciding is None else f": {verdict.deciding.reason}"
        raise Refused(
            f"no care card for {facts.name}: the verdict is {verdict.outcome.value}{reason}. A "
            f'card needs a pass; what is missing says: wickbench judge "{facts.name}"'
        )
    return Document(
        above="How to burn this candle",
        title=facts.name,
        subtitle=f"Made by {maker}" if maker else "",
        blocks=tuple(_blocks(facts)),
        foot=foot,
        card=True,
        at_s=at_s,
    )


def _blocks(facts: TrialFacts) -> Iterator[Block]:
    yield Items(lines=IN_SIGHT)
    yield Heading(text="Each time", level=3)
    yield Items(lines=tuple(_figures(facts)))
    yield Heading(text="Always", level=3)
    yield Items(lines=ALWAYS)
    yield Paragraph(text=LOCAL_LAW, faint=True)


def _figures(facts: TrialFacts) -> Iterator[str]:
    """Only what was burned: no longer, no lower, trimmed alike."""
    words = SiBeside.of(facts.words)
    trims = {one.burn.circumstances.trimmed_to_mm for one in facts.burns} - {None}
    trim = f" to {words.fine_length(min(t for t in trims if t))}" if trims else ""
    yield f"Before you light it, trim the wick{trim}."
    yield f"Burn it for at most {duration(burn_time_s(facts.burns))} at a time."
    cool_s = max(one.limits.cool_down_s for one in facts.burns)
    yield f"Then let it cool for at least {duration(cool_s)}, until all the wax is solid."
    yield f"Stop when {words.fine_length(wax_left_mm(facts.burns))} of wax are left."


def burn_time_s(burns: tuple[BurnEvidence, ...]) -> float:
    """The longest that was burned, within the maker's longest, in half hours."""
    longest_s = max(one.burn.elapsed_s(one.until_s) for one in burns)
    allowed_s = min(one.limits.burn_length_s for one in burns)
    # Who puts it out when told that the end is near has burned it long enough, as for the verdict.
    notice_s = max(one.limits.burn_notice_s for one in burns)
    tested_s = min(longest_s + notice_s, allowed_s)
    return max(tested_s // _STEP_S * _STEP_S, min(longest_s, _SHORTEST_S))


def wax_left_mm(burns: tuple[BurnEvidence, ...]) -> float:
    """Where to stop: at the lowest level of wax that was seen burning, never under the usual."""
    seen = [one.burn.wax_level_mm for one in burns if one.burn.wax_level_mm is not None]
    return max(_LEFT_MM, min(seen, default=_LEFT_MM))


def care_lines(card: Document) -> Iterator[str]:
    """The card for a terminal."""
    yield f"{card.title}: {card.above[0].lower()}{card.above[1:]}"
    for block in card.blocks:
        match block:
            case Heading():
                yield block.text
            case Items():
                yield from (f"  {line}" for line in block.lines)
            case Paragraph():
                yield block.text
