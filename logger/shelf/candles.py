"""Testers and the trials that they serve."""

from dataclasses import dataclass

from logger.sheet_fields import names, text
from logger.shelf.sheet import ShelfRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRecord(ShelfRecord):
    """One wicking in one formula and vessel.

    It is shown on one or more testers.
    """

    formula: str = names("formula")
    vessel: str = names("vessel")
    wicking: str = names("wicking")
    question: str = text("what it is to show", "is size 6 enough for the wide jar")


@dataclass(frozen=True, slots=True, kw_only=True)
class TesterRecord(ShelfRecord):
    """One candle under test.

    Its name is the short code written on the vessel.
    """

    trial: str = names("trial")
    pour: str = names("pour")
    vessel: str = names("vessel")
