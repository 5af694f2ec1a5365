"""[pure] The candidates of a series side by side: the choice, what differs clearly, the costs."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from logger.decision.compared import FIGURES, ComparedTrial, Comparison
from logger.decision.costs import SeriesCosts, Spent
from logger.decision.ranking import RankedTrial, in_a_sentence, ranking, remarks
from logger.reports.blocks import EVEN, Block, Grid, Heading, Items, Paragraph, Sketch
from logger.reports.comparison_messages import comparison, figure_text
from logger.reports.rule_blocks import OUTCOME_WORDS
from logger.reports.si_beside import SiBeside
from logger.reports.trial_pairs import pairs
from logger.words import duration, sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """Trials compared, what they cost, and their curves in one drawing (SVG; empty: none)."""

    found: Comparison
    costs: SeriesCosts
    words: SiBeside
    wide: str = ""
    narrow: str = ""


def series_blocks(together: SideBySide) -> Iterator[Block]:
    """The choice first, then what it rests on."""
    found, words = together.found, together.words
    ranked = ranking(found, words.plain)
    yield Heading(text="The choice")
    yield Paragraph(text=in_a_sentence(found, ranked, words.plain))
    yield Heading(text="The candidates side by side")
    yield Grid(
        head=("", "Trial", "Wick", "Verdict", "Burns"),
        rows=tuple(_row(one) for one in ranked),
        widest=1,
    )
    yield Grid(
        head=("Trial", *FIGURES.values()),
        rows=tuple((one.trial.label, *_figures(one.trial, words)) for one in ranked),
        widest=EVEN,
    )
    yield Items(lines=tuple(f"{one.trial.label}: {one.reason}." for one in ranked))
    if together.wide:
        yield Sketch(
            svg=together.wide,
            narrow_svg=together.narrow,
            described="The hottest comparable burn of each trial in one drawing",
            caption=(
                "The hottest measured place of the hottest comparable burn of each trial, referred "
                f"to a room of {words.temperature(found.room_c)}."
            ),
        )
    yield from _criteria(found)
    yield from _differences(found, words)
    yield from _costs(together.costs, words)


def _row(one: RankedTrial) -> tuple[str, ...]:
    trial = one.trial
    wick = trial.facts.wick.name if trial.facts.wick else ""
    rank = "" if one.rank is None else str(one.rank)
    return rank, trial.label, wick, OUTCOME_WORDS[trial.outcome], _burned(trial)


def _figures(trial: ComparedTrial, words: SiBeside) -> Iterator[str]:
    for key in FIGURES:
        found = trial.figures.get(key)
        if found is None:
            yield "not known"
        else:
            yield words.both(partial(figure_text, key, found))


def _burned(trial: ComparedTrial) -> str:
    facts = trial.facts
    return f"{len(facts.burns)} in {duration(3600.0 * facts.hours)}" if facts.burns else "none"


def _criteria(found: Comparison) -> Iterator[Block]:
    rows = tuple(
        (title, ", ".join(f"{one.label}: {judged.outcome}" for one, judged in by_trial))
        for name, title in found.criteria.items()
        if (by_trial := [(o, o.criteria[name]) for o in found.trials if name in o.criteria])
    )
    if rows:
        yield Heading(text="By criterion", level=3)
        yield Grid(head=("Criterion", "By trial"), rows=rows, widest=1)


def _differences(found: Comparison, words: SiBeside) -> Iterator[Block]:
    rows = tuple(
        (f"{pair.one} and {pair.other}", line.text, "clear" if line.clear else "")
        for pair in pairs(comparison(found, words.plain))
        for line in pair.lines
    )
    if rows:
        yield Heading(text="What differs", level=3)
        yield Grid(head=("Trials", "Of the first, beside the second", ""), rows=rows, widest=1)
    yield Items(lines=tuple(f"{sentence(line)}." for line in remarks(found, words.plain)))


def _costs(found: SeriesCosts, words: SiBeside) -> Iterator[Block]:
    yield Heading(text="Costs", level=3)
    rows = [
        (one.trial, duration(3600.0 * one.hours), *_spent(one.spent, words)) for one in found.trials
    ]
    if found.shared.candles:
        rows.append(("Shared pours", "", *_spent(found.shared, words)))
    rows.append(("Together", duration(3600.0 * found.hours), *_spent(found.spent, words)))
    if found.shared.candles:
        rows.append(("Had each wick had its own candle", "", *_spent(found.separate, words)))
    yield Grid(
        head=("Trial", "Burned", "Candles", "Wax and fragrance", "In the maker's currency"),
        rows=tuple(rows),
    )
    if found.spent.missing:
        yield Paragraph(strong="Not in it:", text=f"{'; '.join(found.spent.missing)}.")


def _spent(found: Spent, words: SiBeside) -> tuple[str, str, str]:
    return str(found.candles), words.mass(found.wax_g), f"{found.amount:.2f}"
