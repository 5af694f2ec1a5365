"""Verdicts with the lots that they rest on, out of what is stored; every function here blocks."""

from logger.decision.change import lot_check
from logger.errors import NotKnown
from logger.reports.change_messages import JudgedLots
from logger.service.all_trials import burned_trials
from logger.service.facts import trial_facts
from logger.service.trial_verdict import Judging
from logger.settings import Settings
from logger.store.opening import FILE_NAME


def judged_lots(settings: Settings, judging: Judging) -> list[JudgedLots]:
    """Of each trial that was burned and is not withdrawn, by name. Raises StoreError."""
    if not (judging.data / FILE_NAME).exists():
        return []
    found = []
    for name in burned_trials(judging):
        try:
            facts = trial_facts(judging, name)
        except NotKnown:  # withdrawn since
            continue
        check = lot_check(name, facts.candles, facts.lots_now, settings.plan.retest.demanded)
        outcome = facts.verdict.outcome
        found.append(JudgedLots(trial=name, outcome=outcome, candles=facts.candles, check=check))
    return found
