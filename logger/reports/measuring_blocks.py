"""[pure] The instruments of a trial: accuracy, calibration, and what each ± is made of."""

from collections.abc import Iterator, Mapping

from logger.burn.evidence import BurnEvidence, Coverage
from logger.conditioning.calibration import Calibration
from logger.conditioning.uncertainty import assumes_accuracy
from logger.decision.trial_facts import TrialFacts
from logger.quantities import Channel, Kind
from logger.reports.blocks import Block, FactList, Grid, Heading, Paragraph
from logger.reports.burn_blocks import budget_line
from logger.reports.burn_chapter import BurnChapter
from logger.reports.si_beside import SiBeside
from logger.timestamps import rfc3339


def instrument_blocks(facts: TrialFacts, chapters: Mapping[str, BurnChapter]) -> Iterator[Block]:
    """Each place's instrument, of the burn in which the place was hottest."""
    words = SiBeside.of(facts.words)
    found = sorted(_hottest_burn(facts).items())
    yield Heading(text="Instruments")
    if not found:
        yield Paragraph(text="No instrument gave a good figure.")
        return
    rows, parts = [], []
    for name, (one, seen) in found:
        channel = seen.channel
        budget = chapters[one.burn.id].budgets.get(name) if one.burn.id in chapters else None
        rows.append(
            (
                words.place(channel.place),
                "by hand" if channel.by_hand else channel.instrument,
                _accuracy(channel, one.calibrations.get(name), words),
                _calibration(one.calibrations.get(name), seen, words),
                one.burn.short_id,
            )
        )
        if budget is not None:
            total = words.difference(budget.expanded, 2)
            parts.append((words.place(channel.place), budget_line(budget, total, words.plain)))
    yield Grid(
        head=("Place", "Instrument", "Accuracy", "Calibration", "Hottest in burn"),
        rows=tuple(rows),
        widest=2,
    )
    if parts:
        yield Heading(text="What each uncertainty is made of", level=3)
        yield FactList(rows=tuple(parts))
    yield Paragraph(
        text=f"Weighings count as right to {words.mass(1.0)}, a kitchen balance (common practice).",
        faint=True,
    )


def _hottest_burn(facts: TrialFacts) -> dict[str, tuple[BurnEvidence, Coverage]]:
    """By channel."""
    found: dict[str, tuple[BurnEvidence, Coverage]] = {}
    for one in facts.burns:
        for seen in one.coverage:
            name = seen.channel.name
            if seen.measured and (name not in found or _highest(seen) > _highest(found[name][1])):
                found[name] = one, seen
    return found


def _highest(seen: Coverage) -> float:
    value = None if seen.highest is None else seen.highest.value
    return -1e9 if value is None else value


def _accuracy(channel: Channel, calibration: Calibration | None, words: SiBeside) -> str:
    kind = "" if channel.kind is Kind.UNSTATED else f"{channel.kind.value}, "
    if channel.emissivity is not None:
        how = "measured" if channel.emissivity_measured else "from a table"
        kind += f"emissivity {channel.emissivity:g} {how}, "
    if channel.by_hand and channel.accuracy is None:
        return f"{kind}as the thermometer in the hand".replace(", as", "; as")
    if assumes_accuracy(channel, calibration):
        return f"{kind}not stated: the usual limit of error of its kind is counted (assumed)"
    if channel.accuracy is None:
        return f"{kind}from its calibration"
    return f"{kind}± {words.difference(channel.accuracy)} as stated"


def _calibration(record: Calibration | None, seen: Coverage, words: SiBeside) -> str:
    if record is None:
        return "none"
    at_c = 50.0 if seen.highest is None or seen.highest.value is None else seen.highest.value
    by = f" by {record.who}" if record.who else ""
    reach = words.difference(2.0 * record.correction.uncertainty_at(at_c))
    return (
        f"{rfc3339(record.at_s, digits=0)[:10]}{by} against {record.reference}: "
        f"{words.difference(record.correction.at(at_c))} ± {reach} at its highest"
    )
