"""What the records of a candle say when it is lit; every function here blocks."""

from dataclasses import replace
from pathlib import Path
from typing import Any, cast

from logger.burn import safety
from logger.burn.entries import Corrected, Lit
from logger.burn.limits import Material
from logger.burn.stated import Circumstances
from logger.burn.trials import name_key
from logger.errors import Refused
from logger.field_table import fields_of
from logger.intake.shelf_bodies import record_of
from logger.shelf.candles import TesterRecord, TrialRecord
from logger.shelf.sheet import ShelfRecord
from logger.shelf.vessels import VesselRecord, clearance
from logger.shelf.wicks import WickingRecord
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
        wick = _wick(reader, trial)
    entry = replace(
        entry,
        wick=wick,
        shared_pour=tester is not None and tester.shared_pour == "yes",
        stated=_stated(entry.stated, tester, trial),
    )
    # of a trial that somebody described, though another has nearly its name, the name is meant
    described = trial is not None and trial != TrialRecord(name=trial.name)
    entry = replace(entry, trial=named, new_trial=entry.new_trial or described)
    if vessel is None:
        return replace(entry, reason="")
    found = clearance(vessel)
    if not found.cleared and not entry.reason:
        raise Refused(
            f"nothing was recorded: the vessel {vessel.name} is {found.text}. Put it out, or "
            "record it again with a reason for lighting it all the same (reason). "
            f"{safety.NOT_WATCHED}"
        )
    return replace(
        entry,
        vessel=vessel.name,
        inner_diameter_mm=vessel.inner_diameter_mm,
        material=Material(vessel.material) if vessel.material else None,
        reason="" if found.cleared else entry.reason,
    )


def with_records_again(data: Path, change: Corrected, lit: Lit) -> Corrected:
    """`change` with what the records say of `lit`, the lighting as it corrects it.

    A vessel that is not cleared refuses nothing here: the candle burned. Raises StoreError.
    """
    why = lit.reason or f"known only since a correction: {change.why}"
    found = with_records(data, replace(lit, vessel="", material=None, reason=why))
    unknown = [
        name for name in ("vessel", "wick", "material", "reason") if not getattr(found, name)
    ]
    return replace(
        change,
        vessel=found.vessel or None,
        wick=found.wick or None,
        material=found.material,
        reason=found.reason or None,
        shared_pour=found.shared_pour,
        lacks=change.lacks or (),
        emptied=(*change.emptied, *unknown),
    )


def _stated(said: Circumstances, *records: ShelfRecord | None) -> Circumstances:
    """What was stated, and where nothing was, what the first record has that states it."""
    found: dict[str, Any] = {}
    for one in fields_of(Circumstances):
        here = (getattr(table, one.attribute, one.empty) for table in (said, *records) if table)
        found[one.attribute] = next((value for value in here if value != one.empty), one.empty)
    return Circumstances(**found)


def _wick(reader: Reader, trial: TrialRecord | None) -> str:
    """The wick of the trial's wicking; empty where no record names it."""
    name = trial.wicking if trial else ""
    wicking = cast("WickingRecord | None", _living(reader, "wicking", name))
    return wicking.wick if wicking else ""


def _living(reader: Reader, kind: str, name: str) -> ShelfRecord | None:
    """The record of that name, in capitals or not; None where none is on the shelf."""
    if not name:
        return None
    living = [one for one in reader.shelf(kind) if not one.withdrawn]
    exact = [one for one in living if one.name == name]
    alike = [one for one in living if name_key(one.name) == name_key(name)]
    return next(map(record_of, exact or (alike if kind == "tester" else [])), None)
