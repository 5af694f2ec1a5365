"""The kinds of entries by their names, and how the JSON of one is read."""

import json
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from logger.errors import DataError
from logger.intake.bodies import (
    AcknowledgeBody,
    AlarmBody,
    BurnBody,
    EntryBody,
    HandBody,
    InSightBody,
    LitBody,
    MoveBody,
    OutBody,
    ReadingBody,
    ShelveBody,
    WeighInBody,
)
from logger.intake.calibration_bodies import CalibrationBody, ChannelBody
from logger.intake.correction_bodies import CorrectBody, WithdrawBody
from logger.intake.look_bodies import ObservationBody
from logger.intake.refusals import refusal

KINDS: dict[str, type[LitBody | BurnBody | HandBody | EntryBody | AlarmBody | ChannelBody]] = {
    "lit": LitBody,
    "out": OutBody,
    "in-sight": InSightBody,
    "readings": ReadingBody,
    "weigh-ins": WeighInBody,
    "move": MoveBody,
    "correct": CorrectBody,
    "withdraw": WithdrawBody,
    "observations": ObservationBody,
    "acknowledge": AcknowledgeBody,
    "shelve": ShelveBody,
    "calibrations": CalibrationBody,
}
"""What can be entered, by the last part of its address."""

M = TypeVar("M", bound=BaseModel)


def parse(kind: type[M], raw: bytes) -> M:
    """The JSON in `raw` as a `kind`: "3" is not a number, 1 is no text, and no key stands twice.

    Raises DataError that names every field to fix.
    """
    try:
        json.loads(raw.decode(), parse_constant=_refuse_constant, object_pairs_hook=_once)
    except (ValueError, RecursionError) as exc:
        raise DataError(f"not JSON: {exc}") from None
    try:
        return kind.model_validate_json(raw, strict=True)
    except ValidationError as exc:
        raise refusal(exc) from None


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number that can be measured")


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key stands twice")
    return found
