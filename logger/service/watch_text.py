"""[pure] The bench as lines of a terminal, 80 columns or what it has; readable without colour."""

import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from logger.alarms.lifecycle import AlarmState, Priority
from logger.announcements import NAMES
from logger.messages import Message, one_line
from logger.service.watching import WatchMoment
from logger.timestamps import clock, parse_rfc3339
from logger.words import duration

WIDTH = 80
NAME = 12  # columns for a station's name


@dataclass(frozen=True, slots=True)
class ScreenLine:
    """One line, and whether it is of the kind that must be seen at once."""

    text: str
    loud: bool = False


def screen(moment: WatchMoment, width: int = WIDTH) -> list[ScreenLine]:
    """Everything, from what needs a person first down to the instruments."""
    found = [*_head(moment), ScreenLine("")]
    found += [*_alarms(moment), ScreenLine("")]
    stations = {one["station"]: one for one in moment.now["stations"]}
    for ahead in moment.now["next_by_station"]:
        found += [*_station(moment, stations[ahead["station"]], ahead), ScreenLine("")]
    found += _instruments(moment.now)
    return [ScreenLine(line, one.loud) for one in found for line in _wrapped(one.text, width)]


def _wrapped(text: str, width: int) -> list[str]:
    """`text` in lines of at most `width`, the later ones under the first."""
    plain = one_line(text)
    indent = " " * (len(text) - len(text.lstrip()))
    wrapped = textwrap.wrap(
        plain.strip(), max(width, 20), initial_indent=indent, subsequent_indent=indent
    )
    return wrapped or [""]


def news_of(moment: WatchMoment) -> str:
    """Changes with what a person is to hear of: alarms, burns, and whether it is live at all."""
    alarms = sorted(f"{one['alarm']} {one['state']} {one['since']}" for one in moment.now["alarms"])
    burns = [f"{one['station']} {one['state']} {one['burn']}" for one in moment.now["stations"]]
    links = [f"{one['name']} {one['state']}" for one in moment.now["instruments"]]
    state = f"{moment.cut_s is None} {moment.frozen_s > 0.0}"
    return "\n".join([*alarms, *burns, *links, state])


def calls(moment: WatchMoment) -> frozenset[str]:
    """What a bell is rung for, once each: an open warning or danger, and being cut off."""
    found = {
        f"{one['alarm']} {one['since']}"
        for one in moment.now["alarms"]
        if one["state"] == AlarmState.UNACKNOWLEDGED
        and Priority(one["priority"]).rank >= Priority.WARNING.rank
    }
    return frozenset(found | ({"cut"} if moment.cut_s is not None else set()))


def _head(moment: WatchMoment) -> Iterator[ScreenLine]:
    bench = moment.now["bench"]
    if moment.cut_s is not None:
        yield ScreenLine(
            f"{bench}: CUT OFF since {clock(moment.cut_s)}, for "
            f"{duration(max(moment.at_s - moment.cut_s, 0.0))}. Nothing here will warn you, every "
            "figure is old: stay with the candle.",
            loud=True,
        )
        yield ScreenLine(f"  {moment.trouble}. Trying again.")
    elif moment.frozen_s:
        yield ScreenLine(
            f"{bench}: FROZEN for {duration(moment.frozen_s)}. The service answers but watches "
            "nothing: stay with the candle and start it again.",
            loud=True,
        )
    else:
        yield ScreenLine(f"{bench}: live, {clock(moment.at_s, seconds=True)}")
    first = moment.now["next"]
    if first is None:
        yield ScreenLine("No candle is recorded lit; there is nothing to do.")
    elif first["now"]:
        yield ScreenLine(f"NOW, {first['station']}: {first['text']}")
    else:
        when = "" if first["at"] is None else f" at {_clock(first['at'])}"
        yield ScreenLine(f"Next, {first['station']}{when}: {first['text']}")


def _alarms(moment: WatchMoment) -> Iterator[ScreenLine]:
    """In the order of what to do: the first with all that it says, of the others a line each."""
    alarms = moment.now["alarms"]
    standing = [one for one in alarms if one["state"] != AlarmState.RETURNED_UNACKNOWLEDGED]
    alike: dict[tuple[object, ...], list[Message]] = {}
    for one in sorted(standing, key=lambda one: (_order(one), one["since"])):
        key = one["rule"], one["station"], one["priority"], one["state"]
        alike.setdefault(key, []).append(one)
    for number, group in enumerate(alike.values()):
        first = group[0]
        priority = Priority(first["priority"])
        is_open = first["state"] == AlarmState.UNACKNOWLEDGED
        more = f", and {len(group) - 1} more" if len(group) > 1 else ""
        said = f"{priority.value.upper()} since {_clock(first['since'])}, {_state(first)}"
        told = f"{first['station'] or moment.now['bench']}, {_name(first)}"
        loud = is_open and priority.rank >= Priority.WARNING.rank
        yield ScreenLine(f"{said}: {told}{more}", loud=loud)
        if is_open and number == 0:
            yield ScreenLine(f"  {first['text']}.")
    over = len(alarms) - len(standing)
    if over:
        yield ScreenLine(f"{over} alarm{'s' if over > 1 else ''} over, not yet acknowledged")
    if not alarms:
        yield ScreenLine("No alarm stands.")


def _name(alarm: Message) -> str:
    return NAMES.get(alarm["rule"], str(alarm["rule"]).replace("-", " "))


def _order(alarm: Message) -> tuple[bool, bool, int]:
    state = alarm["state"]
    return (
        state != AlarmState.UNACKNOWLEDGED,
        state == AlarmState.SHELVED,
        -Priority(alarm["priority"]).rank,
    )


def _state(alarm: Message) -> str:
    if alarm["state"] == AlarmState.UNACKNOWLEDGED:
        return "not acknowledged"
    if alarm["state"] == AlarmState.SHELVED:
        return "set aside for a while"
    by = f" by {alarm['acknowledged_by']}" if alarm["acknowledged_by"] else ""
    return f"acknowledged{by}, and still so"


def _station(moment: WatchMoment, status: Message, ahead: Message) -> Iterator[ScreenLine]:
    name, trial = status["station"], f", {status['trial']}" if status["trial"] else ""
    lit = status["state"] == "lit"
    if lit:
        said = f"LIT as last confirmed, recorded at {_clock(status['lit'])}{trial}"
    elif status["out"] is not None:
        said = f"out as last confirmed, recorded at {_clock(status['out'])}{trial}"
    else:
        said = "no burn recorded"
    yield ScreenLine(f"{name:<{NAME}} {said}")
    texts: Mapping[str, str] = {}
    if moment.shown is not None:
        texts = moment.shown["stations"].get(name, {}).get("texts", {})
    if texts and (lit or status["hottest_measured"] is not None):
        figure = f"{texts['hot-value']} {texts['hot-spread']}".strip()
        margin = f"   {texts['hot-margin']}" if texts["hot-margin"] else ""
        yield ScreenLine(f"  {figure}{margin}")
        yield ScreenLine(f"  hottest measured place: {texts['hot-place']}")
        if texts["unread"]:
            yield ScreenLine(f"  {texts['unread']}")
    if lit and texts:
        left = f"{texts['remaining']} {texts['remaining-word']}"
        yield ScreenLine(f"  {texts['elapsed']} burning, {left}")
    if lit and not status["automatic"]:
        yield ScreenLine("  No automatic watch: nothing will warn you")
    when = "" if ahead["at"] is None else f"{_clock(ahead['at'])}: "
    yield ScreenLine(f"  > {when}{ahead['text']}")


def _instruments(now: Message) -> Iterator[ScreenLine]:
    links = now["instruments"]
    for one in links:
        if one["state"] != "up":
            since = _clock(one["since"])
            yield ScreenLine(f"{one['name']}: {one['state']}, {one['reason']}, since {since}")
    works = sum(one["state"] == "up" for one in links)
    yield ScreenLine(f"{works} of {len(links)} instruments work" if links else "By hand alone")
    space, sent = now["storage"], now["forwarding"]
    if space is not None and not space["ok"]:
        yield ScreenLine(f"disk: {space['text']}")
    if sent is not None and (sent["trouble"] or sent["set_aside"]):
        yield ScreenLine(f"{sent['engine']}: {sent['text']}")


def _clock(at: str) -> str:
    return clock(parse_rfc3339(at))
