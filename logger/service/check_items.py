"""What a check has tried, and what came of it."""

from dataclasses import dataclass, field

from logger.messages import Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that was tried."""

    what: str  # "instrument probes-a", "channel jar-a-wall-3", "broker", "page", "data"
    ok: bool
    text: str
    figures: Message = field(default_factory=dict)
    details: tuple[tuple[str, str, str], ...] = ()  # name, figure, where it comes from


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Everything that was tried."""

    items: tuple[Item, ...]

    @property
    def ok(self) -> bool:
        """Whether all of it works."""
        return all(item.ok for item in self.items)

    def message(self) -> Message:
        """As JSON."""
        return {
            "ok": self.ok,
            "items": [
                {"what": item.what, "ok": item.ok, "text": item.text, **item.figures}
                for item in self.items
            ],
        }
