"""[[criterion]], over the defaults of limits.toml: what a verdict asks for besides the wall."""

from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Annotated, Literal

from pydantic import ValidationInfo, field_validator, model_validator

from logger.burn.limits import CriterionValue, Material
from logger.errors import DataError
from logger.quantities import Quantity
from logger.settings import forms
from logger.settings.keys import Form, Keys, WrongValue, key
from logger.settings.limit_keys import defaults
from logger.units import Dimension, parse_quantity

HIGHEST_GRADE = 3  # of a look


def _grade(value: object) -> float:
    if isinstance(value, bool) or value not in range(HIGHEST_GRADE + 1):
        raise DataError(f"{forms.seen(value)} is not a grade; write 0, 1, 2 or 3")
    return float(value)  # type: ignore[arg-type]  # a whole number


def _quantity(of: Quantity | Dimension, example: str) -> Callable[[object], float]:
    return forms.quantity(of, example).read


def _share(value: object) -> float:
    try:
        share = parse_quantity(str(value), Quantity.HUMIDITY)  # in percent, as that is
    except DataError:
        share = -1.0
    if not 0.0 <= share <= 100.0:
        raise DataError(f'{forms.seen(value)} is not a share; write for example "15 %"')
    return share


_FIGURES: Mapping[str, Callable[[object], float]] = {
    "flame-height": _quantity(Dimension.LENGTH, '"75 mm"'),
    "after-smoke": _quantity(Dimension.DURATION, '"30 s"'),
    "soot": _grade,
    "mushrooming": _grade,
    "melt-pool-full": _quantity(Dimension.DURATION, '"4 h"'),
    "pool-depth": _quantity(Dimension.LENGTH, '"19 mm"'),
    "hang-up": _quantity(Dimension.LENGTH, '"3 mm"'),
    "consumption": _quantity(Quantity.MASS, '"8 g"'),
    "wax-left": _share,
}
_ALWAYS_JUDGED = {"flame-height"}  # what is about safety nobody leaves out
_RANGES = {"consumption", "wax-left"}

_Name = Literal[
    "flame-height",
    "after-smoke",
    "soot",
    "mushrooming",
    "melt-pool-full",
    "pool-depth",
    "hang-up",
    "consumption",
    "wax-left",
]
_Figure = Annotated[float | None, Form(lambda value: value, '"50 mm"')]


class CriterionKeys(Keys):
    """[[criterion]]: one figure of your own."""

    name: Annotated[_Name, forms.word('"flame-height"')] = key("of the criterion")
    least: _Figure = key("consumption and wax-left: not less than this", None)
    most: _Figure = key("not more than this, in the criterion's unit; grades are 0 to 3", None)
    material: Material | None = key("for vessels of it alone", None)
    regime: Literal["standard", "power", "untrimmed", "short", "draught"] | None = key(
        "for burns of it alone", None
    )
    wick: Literal["cotton", "paper", "wooden"] | None = key("for wicks of this form alone", None)
    judged: bool = key("false: leave the criterion out, as every verdict will say", True)
    source: str = key("where your figure comes from", "", '"our insurer"')

    @field_validator("least", "most", mode="before")
    @classmethod
    def _in_its_unit(cls, value: object, info: ValidationInfo) -> object:
        name = info.data.get("name")
        if value is None or name is None:
            return value
        if info.field_name == "least" and name not in _RANGES:
            raise WrongValue(f"{name} has no least; write most")
        try:
            return _FIGURES[name](value)
        except DataError as exc:
            raise WrongValue(str(exc)) from exc

    @model_validator(mode="after")
    def _asks_for_something(self) -> "CriterionKeys":
        if not self.judged and self.name in _ALWAYS_JUDGED:
            raise WrongValue("is about safety and is always judged; leave this key out", "judged")
        if self.judged and self.least is None and self.most is None:
            raise WrongValue("asks for nothing; write most", "name")
        if None not in (self.least, self.most) and self.least >= self.most:  # type: ignore[operator]
            raise WrongValue("least is not below most; exchange them", "least", "most")
        return self

    def value(self, *, own: bool) -> CriterionValue:
        """As the core uses it."""
        return CriterionValue(
            criterion=self.name,
            least=self.least,
            most=self.most,
            material=self.material,
            regime=self.regime or "",
            wick=self.wick or "",
            source=self.source,
            own=own,
            judged=self.judged,
        )


@cache
def default_criteria() -> tuple[CriterionValue, ...]:
    """The figures of a bench that states none."""
    return tuple(
        CriterionKeys.model_validate(one).value(own=False) for one in defaults()["criterion"]
    )


def criteria_of(stated: Iterable[CriterionKeys]) -> tuple[CriterionValue, ...]:
    """The maker's own, and all defaults beneath."""
    return (*(one.value(own=True) for one in stated), *default_criteria())
