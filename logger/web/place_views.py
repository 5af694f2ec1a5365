"""[pure] What the page says of each place: figure, margin, and how far it may be believed."""

from dataclasses import dataclass
from enum import StrEnum

from logger.burn.limits import WallLimits
from logger.burn.status import is_of_before, is_old
from logger.quantities import Channel, Estimate, Quality
from logger.web.texts import gettext as _
from logger.words import Words, duration


class PlaceState(StrEnum):
    """How far the figure of a place may be believed."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    LOST = "lost"
    OLD = "old"  # read by hand, too long ago
    BEFORE = "before"  # read by hand before this burn
    NONE = "none"  # nothing came yet


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceView:
    """One channel as the page shows it; words only, in the bench's display units."""

    channel: Channel
    estimate: Estimate | None
    state: PlaceState
    level: str  # under, near, over; "" where no limit stands or nothing is known
    value: str
    expanded: str  # expanded uncertainty, with its sign
    margin: str  # short, for a label beside the figure
    margin_words: str
    said: str  # what a person must know of the figure, "" for a good one
    beside: str  # margin and doubt, as a label has them under the figure
    upper_c: float | None  # value plus expanded uncertainty, where a limit stands

    @property
    def present(self) -> bool:
        """Whether it says what the place is now."""
        return self.state in (PlaceState.GOOD, PlaceState.DOUBTFUL)

    @property
    def before(self) -> bool:
        """Whether a person read it before this burn alone, which says nothing of it."""
        return self.state is PlaceState.BEFORE

    @property
    def words(self) -> str:
        """Where it is, and what must be known of its figure."""
        return f"{self.channel.place}, {self.said}" if self.said else str(self.channel.place)

    @property
    def texts(self) -> dict[str, str]:
        """What stands on the page, by the name of its field there."""
        return {
            "value": self.value or _("no reading"),
            "spread": self.expanded,
            "limit": self.margin,
            "beside": self.beside,
            "said": self.said,
        }

    @property
    def by_hand(self) -> bool:
        """Whether a person reads it."""
        return self.channel.by_hand


def place_view(
    channel: Channel,
    estimate: Estimate | None,
    wall: WallLimits | None,
    words: Words,
    now_s: float,
    *,
    since_s: float | None = None,
) -> PlaceView:
    """`channel` now; `wall` are the limits of its vessel, None where it is on none.

    What a person read before `since_s`, the lighting, was of an earlier burn.
    """
    state = _state(channel, estimate, now_s, since_s)
    value = expanded = margin = left = margin_words = level = ""
    upper_c: float | None = None
    if estimate is not None and estimate.value is not None and state is not PlaceState.LOST:
        value = words.value(estimate.value, channel.quantity)
        if estimate.standard_uncertainty is not None:
            expanded = words.expanded_uncertainty(
                estimate.standard_uncertainty,
                assumed=estimate.accuracy_assumed,
                quantity=channel.quantity,
            )
        if (
            wall is not None
            and channel.on_vessel
            and estimate.upper is not None
            and state is not PlaceState.BEFORE
        ):
            upper_c = estimate.upper
            margin, left, margin_words, level = _margin(upper_c, wall, words)
    return PlaceView(
        channel=channel,
        estimate=estimate,
        state=state,
        level=level,
        value=value,
        expanded=expanded,
        margin=margin,
        margin_words=margin_words,
        said=_said(channel, estimate, state, now_s),
        beside=_beside(margin, left, state, level),
        upper_c=upper_c,
    )


def _margin(upper_c: float, wall: WallLimits, words: Words) -> tuple[str, str, str, str]:
    """How far a value with its uncertainty is from the limit: short, the same without its level,
    in words, and the level.
    """
    left_k = wall.limit_c - upper_c
    figure = words.difference(abs(left_k))
    short = figure.rpartition(" ")[0]
    if left_k < 0.0:
        over = _("OVER LIMIT %(by)s", by=short)
        return over, over, _("OVER LIMIT by %(by)s (counting ±)", by=figure), "over"
    left = _("%(left)s left", left=short)
    if upper_c > wall.alert_c:
        near = _("near, %(left)s left", left=short)
        return near, left, _("near limit, %(left)s left", left=figure), "near"
    return left, left, _("%(left)s left to limit", left=figure), "under"


def _beside(margin: str, left: str, state: PlaceState, level: str) -> str:
    """Under the figure there is room for some sixteen letters; the sign there tells "near" too."""
    if state is not PlaceState.DOUBTFUL:
        return margin
    return _("OVER, doubtful") if level == "over" else _("doubtful, %(margin)s", margin=left)


def _state(
    channel: Channel, estimate: Estimate | None, now_s: float, since_s: float | None
) -> PlaceState:
    if estimate is None or estimate.value is None:
        return PlaceState.NONE
    if estimate.quality is Quality.LOST:
        return PlaceState.LOST
    if is_of_before(channel, estimate, since_s):
        return PlaceState.BEFORE
    if is_old(channel, estimate, now_s):
        return PlaceState.OLD
    return PlaceState.GOOD if estimate.quality is Quality.GOOD else PlaceState.DOUBTFUL


def _said(channel: Channel, estimate: Estimate | None, state: PlaceState, now_s: float) -> str:
    if estimate is not None and channel.by_hand:
        if state is PlaceState.BEFORE:  # its age would not fit beside the drawing, and be no help
            return _("before this burn")
        return _("by hand, %(age)s ago", age=duration(max(0.0, now_s - estimate.at_s)))
    match state:
        case PlaceState.NONE:
            return _("no reading yet")
        case PlaceState.LOST:
            return _("no reading")
        case PlaceState.DOUBTFUL:
            return _("doubtful")
        case _:
            return ""
