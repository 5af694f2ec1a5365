"""What is wrong with a body, in words of ours instead of the validator's."""

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from logger.errors import DataError
from logger.intake.fields import ID, NAME

_PATTERNS = {
    ID: "must be 8 to 64 letters, digits or . _ : -",
    NAME: "must be small letters, digits and hyphens, as jar-a",
}
_SAYS: Mapping[str, str] = {  # by the type of pydantic's error, filled with its context
    "missing": "is missing",
    "extra_forbidden": "is no field here: check the spelling",
    "string_type": "must be text, in quotes",
    "string_too_short": "must not be empty",
    "string_too_long": "is too long; write at most {max_length} characters",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "finite_number": "must be a number that can be measured",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge:g} or more",
    "less_than_equal": "must be {le:g} or less",
    "too_short": "needs at least {min_length}",
    "too_long": "takes at most {max_length}",
    "enum": "must be one of {expected}",
    "literal_error": "must be {expected}",
    "tuple_type": "must be a list",
    "model_type": "must be an object with fields",
}


_OTHERWISE = "is not what belongs here: see /api/openapi.json"  # no words of the validator's


def refusal(exc: ValidationError) -> DataError:
    """Every field to fix, in one line."""
    return DataError("; ".join(map(_words, exc.errors(include_url=False))))


def _words(error: ErrorDetails) -> str:
    where = ".".join(str(step) for step in error["loc"])
    said = _said(error["type"], error.get("ctx", {}))
    return f"{where}: {said}" if where else said


def _said(kind: str, context: Mapping[str, Any]) -> str:
    if kind == "value_error":  # a check of ours
        return str(context["error"])
    if kind == "string_pattern_mismatch":
        return _PATTERNS.get(context["pattern"], "is not written as it must be")
    return _SAYS.get(kind, _OTHERWISE).format(**context)
