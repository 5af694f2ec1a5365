"""Verdicts with the lots that they hang on, out of what is stored; every function here blocks."""

from logger.decision.change import lot_check
from logger.errors import NotKnown
from logger.reports.change_messages import JudgedLots
from logger.service.facts import trial_facts
from logger.service.trial_verdict import Judging
from logger.settings import Settings
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read


def judged_lots(settings: Settings, judging: Judging) -> list[JudgedLots]:
    """Of each trial that was burned and is not withdrawn, by name. Raises StoreError."""
    if not (judging.data / FILE_NAME).exists():
        return []
    with open_read(judging.data) as reader:
        names = {burn.trial for burn in reader.burns() if not burn.withdrawn}
        names -= {one.name for one in reader.shelf("trial") if one.withdrawn}
    found = []
    for name in sorted(names):
        try:
            facts = trial_facts(judging, name)
        except NotKnown:  # withdrawn since
            continue
        check = lot_check(name, facts.candles, facts.lots_now, settings.plan.retest.demanded)
        outcome = facts.verdict.outcome
        found.append(JudgedLots(trial=name, outcome=outcome, candles=facts.candles, check=check))
    return found
