"""What the records of a candle say when it is lit; every function here blocks."""

from dataclasses import replace
from pathlib import Path
from typing import cast

from logger.burn.entries import Lit
from logger.burn.limits import Material
from logger.errors import Refused
from logger.intake.shelf_bodies import record_of
from logger.shelf.candles import TesterRecord, TrialRecord
from logger.shelf.sheet import ShelfRecord
from logger.shelf.vessels import VesselRecord, clearance
from logger.store.queries import Reader, open_read


def with_records(data: Path, entry: Lit) -> Lit:
    """`entry` with its trial, vessel and material where records on the shelf name them.

    Raises Refused where the vessel is not cleared and no reason is stated, StoreError.
    """
    with open_read(data) as reader:
        tester = cast("TesterRecord | None", _living(reader, "tester", entry.tester.strip()))
        named = entry.trial or (tester.trial if tester else "")
        trial = cast("TrialRecord | None", _living(reader, "trial", named))
        of_trial = trial.vessel if trial else ""
        name = (tester.vessel if tester else "") or of_trial
        vessel = cast("VesselRecord | None", _living(reader, "vessel", name))
    # of a trial that somebody described, though another has nearly its name, the name is meant
    described = trial is not None and trial != TrialRecord(name=trial.name)
    entry = replace(entry, trial=named, new_trial=entry.new_trial or described)
    if vessel is None:
        return replace(entry, reason="")
    found = clearance(vessel)
    if not found.cleared and not entry.reason:
        raise Refused(
            f"nothing was recorded: the vessel {vessel.name} is {found.text}. Put it out, or send "
            "it again with the reason why it is lit all the same (reason)"
        )
    return replace(
        entry,
        vessel=vessel.name,
        inner_diameter_mm=vessel.inner_diameter_mm,
        material=Material(vessel.material) if vessel.material else None,
        reason="" if found.cleared else entry.reason,
    )


def _living(reader: Reader, kind: str, name: str) -> ShelfRecord | None:
    """The record of that name, in capitals or not; None where none is on the shelf."""
    if not name:
        return None
    living = [one for one in reader.shelf(kind) if not one.withdrawn]
    exact = [one for one in living if one.name == name]
    alike = [one for one in living if one.name.casefold() == name.casefold()]
    return next(map(record_of, exact or (alike if kind == "tester" else [])), None)
