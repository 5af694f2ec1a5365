"""Testers and the trials that they serve."""

from collections.abc import Iterator
from dataclasses import dataclass

from logger.field_table import REGIMES, FieldForm, a, names, one_of, text
from logger.shelf.sheet import ShelfRecord
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRecord(ShelfRecord):
    """One wicking in one formula and vessel.

    It is shown on one or more testers.
    """

    formula: str = names("formula")
    vessel: str = names("vessel")
    wicking: str = names("wicking")
    # How its burns are run; each lighting may say otherwise.
    regime: str = one_of("how it is burned", *REGIMES)
    trimmed_to_mm: float | None = a(FieldForm.LENGTH, "the wick, before each lighting", "6 mm")
    planned_length_s: float | None = a(FieldForm.DURATION, "of each burn", "2 h")
    question: str = text("what it is to show", "is size 6 enough for the wide jar")
    client: str = text("for whom it is made", "Aldermoor House")
    check_candle: str = one_of("whether it is the kept recipe that checks the bench", "yes", "no")


@dataclass(frozen=True, slots=True, kw_only=True)
class TesterRecord(ShelfRecord):
    """One candle under test.

    Its name is the short code written on the vessel.
    """

    trial: str = names("trial")
    pour: str = names("pour")
    vessel: str = names("vessel")
    # One candle that serves several wicks in turn: a hole is made, the next set, the top melted.
    shared_pour: str = one_of("whether it serves several wicks in turn", "yes", "no")
    wick_order: str = text("of a shared pour: its wicks in their order", "M4, M6, M8")
    hole_depth_mm: float | None = a(FieldForm.LENGTH, "of a shared pour", "60 mm")
    remelt: str = text("of a shared pour: how its top is melted again", "heat gun from above")
    remelt_time_s: float | None = a(FieldForm.DURATION, "of a shared pour", "4 min")
    set_time_s: float | None = a(FieldForm.DURATION, "of a shared pour, after melting", "12 h")

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """What a shared pour is for."""
        if self.shared_pour == "yes":
            yield (
                "a shared pour: one burn a wick, weighed cold after each; its last quarter, hot "
                "throw and life are judged on a candle of its own"
            )
