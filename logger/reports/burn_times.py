"""[pure] Times of a burn as its record writes them, and what its instruments' links did."""

from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from logger.burn.link_record import LinkRecord

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)  # fmt: skip - in English whatever the system's language is


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnTimes:
    """Writes moments of the burn that was lit at `lit_s`."""

    lit_s: float
    zone: tzinfo

    def clock(self, at_s: float) -> str:
        """Time of day; with the day where it is not the one of lighting."""
        at, lit = self._at(at_s), self._at(self.lit_s)
        return f"{at:%H:%M}" if at.date() == lit.date() else f"{self.day(at_s)}, {at:%H:%M}"

    def seconds(self, at_s: float) -> str:
        """Time of day to the second."""
        return f"{self._at(at_s):%H:%M:%S}"

    def day(self, at_s: float) -> str:
        """The date, with the month in letters so that no order of figures misleads."""
        at = self._at(at_s)
        return f"{at.day} {_MONTHS[at.month - 1]} {at.year}"

    def since(self, at_s: float) -> str:
        """Hours and minutes after lighting."""
        return hours_minutes(at_s - self.lit_s)

    @property
    def zone_name(self) -> str:
        """The zone its times of day are in."""
        offset = self._at(self.lit_s).strftime("%z")
        return f"UTC{offset[:3]}:{offset[3:5]}" if offset.strip("+0") else "UTC"

    def _at(self, at_s: float) -> datetime:
        return datetime.fromtimestamp(at_s, UTC).astimezone(self.zone)


def hours_minutes(since_s: float) -> str:
    """A time since lighting: "3:05"."""
    minutes = round(since_s / 60.0)
    sign = "-" if minutes < 0 else ""
    return f"{sign}{abs(minutes) // 60}:{abs(minutes) % 60:02d}"


def link_line(link: LinkRecord) -> str:
    """How an instrument kept in touch."""
    said = []
    if link.reconnects:
        times = "once" if link.reconnects == 1 else f"{link.reconnects} times"
        said.append(f"lost its link and came back {times}")
    if link.weakest_dbm is not None:
        said.append(f"signal down to {link.weakest_dbm} dBm")
    if link.battery_percent is not None:
        said.append(f"battery down to {link.battery_percent} %")
    return f"{link.instrument}: {', '.join(said)}"
