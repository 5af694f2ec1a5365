"""[plan]: when the maker is at the bench and what one person can do, and how much is retested."""

import re
from typing import Annotated, Literal

from pydantic import field_validator
from pydantic_core.core_schema import ValidationInfo

from logger.decision.change import SMALLEST, LotPart, Retest
from logger.errors import DataError
from logger.settings import forms
from logger.settings.forms import seen
from logger.settings.keys import Form, Keys, WrongValue, key

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOURS, _DAYS = '["08:00", "18:00"]', '["mon", "tue", "wed"]'
_TIME = re.compile(r"(\d{1,2}):(\d\d)", re.ASCII)

_RetestWord = Literal["one-burn", "two-burns", "to-the-end", "new-trial"]


def _hours(value: object) -> tuple[float, float]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise DataError(f"needs when you come and when you go; write {_HOURS}")
    from_s, to_s = map(_of_day_s, value)
    if from_s >= to_s:
        raise DataError(f"{seen(value[1])} is not after {seen(value[0])}; write {_HOURS}")
    return from_s, to_s


def _of_day_s(value: object) -> float:
    found = _TIME.fullmatch(value) if isinstance(value, str) else None
    if found is None or int(found[1]) > 24 or int(found[2]) > 59 or int(found[1] + found[2]) > 2400:
        raise DataError(f"{seen(value)} is not a time of day; write {_HOURS}")
    return 3600.0 * int(found[1]) + 60.0 * int(found[2])


def _days(value: object) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not value or any(day not in DAYS for day in value):
        raise DataError(f"needs days of the week by three letters; write for example {_DAYS}")
    return tuple(day for day in DAYS if day in value)


class RetestKeys(Keys):
    """[plan.retest]: what is burned again when a lot changes; more than usual, never less."""

    wax: _RetestWord = key("a new lot of wax", "to-the-end")
    second_wax: _RetestWord = key("of the second wax of a blend", "to-the-end")
    fragrance: _RetestWord = key("of fragrance", "two-burns")
    dye: _RetestWord = key("of dye", "one-burn")
    wick: _RetestWord = key("of wicks", "to-the-end")
    vessel: _RetestWord = key("of vessels, which are checked anew as well", "one-burn")

    @field_validator("*")
    @classmethod
    def _no_less_than_usual(cls, word: str, info: ValidationInfo) -> str:
        least = SMALLEST[_part(info.field_name or "")][0]
        if Retest.of(word) < least:
            raise WrongValue(
                f'"{word}" is less than usual (common practice); write "{least.written}" or more'
            )
        return word

    @property
    def demanded(self) -> dict[LotPart, Retest]:
        """As the core uses them."""
        return {_part(name): Retest.of(getattr(self, name)) for name in type(self).model_fields}


def _part(name: str) -> LotPart:
    return LotPart(name.replace("_", " "))


class PlanKeys(Keys):
    """[plan]: what one person can carry out."""

    hours_s: Annotated[
        tuple[float, float], Form(_hours, _HOURS, {"minItems": 2, "maxItems": 2})
    ] = key("when you are at the bench", ("08:00", "18:00"))
    days: Annotated[tuple[str, ...], Form(_days, _DAYS)] = key(
        "on which days", ("mon", "tue", "wed", "thu", "fri")
    )
    mark_takes_s: Annotated[float, forms.duration('"5 min"')] = key(
        "how long a lighting, a mark or an out takes you",
        "5 min",  # our choice: to look, measure two sides and write it down
    )
    in_sight: Annotated[int, forms.whole(1, 50, "3")] = key(
        "burning candles that you can keep in sight at once",
        3,  # our choice; common practice is one watcher a room
    )
    testers: Annotated[int, forms.whole(1, 9, "2")] = key(
        "candles alike that are burned to their ends for a verdict",
        2,  # common practice: at least two or three
    )
    retest: RetestKeys = key("what is burned again when a lot changes", {})
