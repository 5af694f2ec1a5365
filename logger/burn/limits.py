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
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A spot on the bench where one candle burns."""

    name: str
    material: Material | None = None
