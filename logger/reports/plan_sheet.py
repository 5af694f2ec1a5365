"""The bench plan on paper: a line for each thing to do, to be ticked off with a pencil."""

from collections.abc import Sequence
from itertools import groupby

from logger.planning.maker_plan import MakerPlan, Moment, moments
from logger.reports.plan_messages import supply_lines
from logger.reports.templates import page, style
from logger.timestamps import clock, day_words
from logger.words import Words

MOST_DAYS = 7  # further ahead it changes anyway (our choice)


def plan_sheet(found: MakerPlan, bench: str, words: Words) -> str:
    """One page of HTML, nothing outside of it."""
    return page(
        "plan.html",
        bench=bench,
        made=f"{day_words(found.at_s)}, {clock(found.at_s)}",
        days=_days(moments(found.plan.burns)),
        trials=[
            (one, day_words(at_s) if (at_s := found.plan.verdict_s.get(one.name)) else "")
            for one in found.trials
        ],
        supplies=list(supply_lines(found, words)),
        clock=clock,
        style=style(),
    )


def _days(found: Sequence[Moment]) -> list[tuple[str, list[Moment]]]:
    by_day = groupby(found, key=lambda one: day_words(one.at_s))
    return [(day, list(of_day)) for day, of_day in by_day][:MOST_DAYS]
