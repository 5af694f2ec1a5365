"""The maker's own limits, as the core uses them; defaults and sources are in config/limits.toml."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Material(StrEnum):
    """What the vessel is made of: the same temperature burns sooner on metal than on glass."""

    GLASS = "glass"
    CERAMIC = "ceramic"
    METAL = "metal"


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLimits:
    """For the outside of a vessel: where the maker wants to be told, and where the test fails."""

    alert_c: float
    limit_c: float
    own: bool = False  # the maker stated them; else they are defaults of this program


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionValue:
    """What a criterion asks for, where it holds, and whose figure it is."""

    criterion: str  # its name
    least: float | None = None  # in the criterion's unit, see `decision`
    most: float | None = None
    material: Material | None = None  # of the vessel; None: of any
    regime: str = ""  # of the burn; empty: of any
    wick: str = ""  # form of the wick; empty: of any
    source: str = ""
    own: bool = False  # the maker stated it; else it is a default of this program
    judged: bool = True  # a maker may leave a criterion out: the verdict says so

    @property
    def origin(self) -> str:
        """Whose figure it is, in a few words."""
        if not self.own:
            return f"default: {self.source}"
        return f"the maker's own: {self.source}" if self.source else "the maker's own"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """All limits of a bench."""

    burn_length_s: float
    burn_notice_s: float  # told this long ahead of burn_length_s
    cool_down_s: float
    room_low_c: float
    room_high_c: float
    wall: Mapping[Material, WallLimits]

    def of(self, material: Material | None) -> WallLimits:
        """Limits for `material`; the lowest of all where it is not known."""
        if material is not None:
            return self.wall[material]
        return WallLimits(
            alert_c=min(w.alert_c for w in self.wall.values()),
            limit_c=min(w.limit_c for w in self.wall.values()),
            own=min(self.wall.values(), key=lambda w: w.limit_c).own,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A spot on the bench where one candle burns."""

    name: str
    material: Material | None = None
