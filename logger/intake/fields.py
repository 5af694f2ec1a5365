"""The fields that bodies share: each with the bounds of what people write and measure."""

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints

from logger.conditioning.infrared import LEAST_EMISSIVITY
from logger.messages import one_line

NAME, ID = r"^[a-z0-9-]+$", r"^[A-Za-z0-9._:-]{8,64}$"

Name = Annotated[str, StringConstraints(pattern=NAME, max_length=64)]
Line = Annotated[
    str, StringConstraints(strip_whitespace=True, max_length=200), AfterValidator(one_line)
]
Id = Annotated[str, StringConstraints(pattern=ID)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Figure = Annotated[float, Field(ge=-1e6, le=1e6)]  # whose square is a number still
Emissivity = Annotated[float, Field(ge=LEAST_EMISSIVITY, le=1)]


def _as_whole(value: object) -> object:
    return int(value) if isinstance(value, float) and value.is_integer() else value


Whole = Annotated[int, BeforeValidator(_as_whole)]  # 3.0 is whole (JSON Schema 2020-12, 6.1.1)


def _not_empty(text: str) -> str:
    if not text:
        raise ValueError("must not be empty")
    return text


SomeLine = Annotated[Line, AfterValidator(_not_empty)]
