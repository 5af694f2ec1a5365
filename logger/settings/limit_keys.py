"""[limits], over the defaults of limits.toml."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Annotated, Any, Self

from pydantic import ValidationInfo, field_validator, model_validator

from logger.burn.limits import Limits, Material, WallLimits
from logger.errors import DataError
from logger.quantities import Quantity
from logger.settings import forms
from logger.settings.forms import Celsius, Hours
from logger.settings.keys import Form, Keys, WrongValue, key

_ROOM = '["20 degC", "27 degC"]'
_TWO = {"minItems": 2, "maxItems": 2}


class WallLimitKeys(Keys):
    """[limits.glass] and its like: for the outside of a vessel of that material."""

    wall_alert_c: Celsius = key("from here on it is a caution: come and look", example='"57 degC"')
    wall_limit_c: Celsius = key("from here on it is a warning: the test has failed")

    @model_validator(mode="after")
    def _alert_comes_first(self) -> Self:
        if self.wall_alert_c >= self.wall_limit_c:
            raise WrongValue(
                "the alert does not come before the limit; write a wall_alert below wall_limit",
                "wall_alert",
                "wall_limit",
            )
        return self

    @property
    def limits(self) -> WallLimits:
        """As the core uses them."""
        return WallLimits(alert_c=self.wall_alert_c, limit_c=self.wall_limit_c)


def _room(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise DataError(f"needs a lower and an upper temperature; write {_ROOM}")
    form = forms.quantity(Quantity.TEMPERATURE, '"20 degC"')
    low_c, high_c = (form.read(each) for each in value)
    if low_c >= high_c:
        raise DataError(f'"{value[0]}" is not below "{value[1]}"; write the lower one first')
    return low_c, high_c


class LimitKeys(Keys):
    """[limits], over the defaults of limits.toml."""

    burn_length_s: Hours = key("longest burn")
    burn_notice_s: Hours = key("announced this long before it", example='"15 min"')
    cool_down_s: Hours = key("pause before a candle may be lit again")
    room_c: Annotated[tuple[float, float], Form(_room, _ROOM, _TWO)] = key(
        "the room should stay within these"
    )
    glass: WallLimitKeys
    ceramic: WallLimitKeys
    metal: WallLimitKeys

    @field_validator("burn_notice_s")
    @classmethod
    def _notice_comes_before_the_end(cls, notice_s: float, info: ValidationInfo) -> float:
        if notice_s >= info.data.get("burn_length_s", float("inf")):
            raise WrongValue(
                "does not come before the end of burn_length; write a shorter time than that"
            )
        return notice_s

    @property
    def limits(self) -> Limits:
        """As the core uses them."""
        low_c, high_c = self.room_c
        return Limits(
            burn_length_s=self.burn_length_s,
            burn_notice_s=self.burn_notice_s,
            cool_down_s=self.cool_down_s,
            room_low_c=low_c,
            room_high_c=high_c,
            wall={material: self._wall(material) for material in Material},
        )

    def _wall(self, material: Material) -> WallLimits:
        """A limit that is no default is the maker's own."""
        found: WallLimits = getattr(self, material).limits
        default = defaults()["limits"][material]
        default_c = WallLimitKeys.model_validate(default).wall_limit_c
        return replace(found, own=not math.isclose(found.limit_c, default_c, abs_tol=1e-6))


def default_limits() -> Limits:
    """The limits of a bench that states none."""
    return LimitKeys.model_validate(over_default_limits({})).limits


def over_default_limits(stated: Any) -> Any:
    """The [limits] that stand under every configuration, with those that are stated above them."""
    return _merged(defaults()["limits"], stated)


@cache
def defaults() -> Mapping[str, Any]:
    """What config/limits.toml says."""
    text = files("config").joinpath("limits.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _merged(beneath: Any, above: Any) -> Any:
    if not isinstance(beneath, Mapping) or not isinstance(above, Mapping):
        return above
    return {**beneath, **{key: _merged(beneath.get(key), value) for key, value in above.items()}}
