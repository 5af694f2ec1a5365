"""All of the maker's own trials, out of what is stored; every function here blocks."""

from logger.decision.own_trials import OwnTrial, own_trials
from logger.errors import NotKnown
from logger.service.facts import trial_facts
from logger.service.trial_verdict import Judging
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read


def all_own_trials(judging: Judging) -> tuple[OwnTrial, ...]:
    """Of every trial that was burned and is not withdrawn. Raises StoreError."""
    if not (judging.data / FILE_NAME).exists():
        return ()
    found = []
    for name in burned_trials(judging):
        try:
            found.append(trial_facts(judging, name))
        except NotKnown:  # withdrawn since
            continue
    return own_trials(found)


def burned_trials(judging: Judging) -> list[str]:
    """Their names, in order."""
    with open_read(judging.data) as reader:
        names = {burn.trial for burn in reader.burns() if not burn.withdrawn}
        return sorted(names - {one.name for one in reader.shelf("trial") if one.withdrawn})
