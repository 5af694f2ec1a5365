"""What the maker's own trials say of sizes for a vessel; every function here blocks."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from logger.decision.starting_sizes import KnownSize, StartingSizes, starting_sizes
from logger.decision.trial_facts import TrialFacts
from logger.intake.shelf_bodies import record_of
from logger.service.facts import trial_facts
from logger.shelf.candles import TrialRecord
from logger.shelf.wicks import WickRecord
from logger.store.queries import open_read

if TYPE_CHECKING:
    from logger.service.trial_verdict import Judging


def sizes_to_begin(judging: "Judging", facts: TrialFacts) -> StartingSizes | None:
    """Wicks for a trial without burns; None where its vessel's width or its wick is not known."""
    width_mm = None if facts.vessel is None else facts.vessel.inner_diameter_mm
    if width_mm is None or facts.wick is None or facts.formula is None:
        return None
    with open_read(judging.data) as reader:
        shelf = [
            record_of(one)
            for kind in ("wick", "trial")
            for one in reader.shelf(kind)
            if not one.withdrawn
        ]
        burned = {one.name for one in reader.trials()}
    series = [
        one for one in shelf if isinstance(one, WickRecord) and one.series == facts.wick.series
    ]
    trials = [
        one.name
        for one in shelf
        if isinstance(one, TrialRecord)
        and one.formula == facts.formula.name
        and one.name in burned - {facts.name}
    ]
    known = [found for name in trials for found in _known(trial_facts(judging, name), facts)]
    return starting_sizes(known, series, width_mm, facts.words)


def _known(one: TrialFacts, like: TrialFacts) -> Iterator[KnownSize]:
    """What `one` says of a size, if its wicks are as those of `like`."""
    width_mm = None if one.vessel is None else one.vessel.inner_diameter_mm
    number, other = ((each.wicking and each.wicking.number) or 1 for each in (one, like))
    if one.wick is None or one.wick.order is None or width_mm is None or number != other:
        return
    if like.wick is not None and one.wick.series == like.wick.series:
        step = one.verdict.next_step
        yield KnownSize(
            trial=one.name,
            order=one.wick.order,
            inner_diameter_mm=width_mm,
            outcome=one.verdict.outcome,
            step=None if step is None else step.step,
        )
