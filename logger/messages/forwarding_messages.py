"""How far a time-series engine is behind, as a message."""

from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.messages.text import LONGEST_LINE, one_line, rounded
from logger.quantities import Forwarding
from logger.words import duration


class ForwardingMessage(TypedDict):
    """How far a time-series engine has what is stored."""

    engine: str
    behind_s: Annotated[float, Doc("age of the oldest point that it does not have; 0: none")]
    waiting: Annotated[int, Doc("points that it does not have")]
    set_aside: Annotated[int, Doc("points that it refused for themselves")]
    refused: Annotated[str | None, Doc("the latest of those, and why")]
    trouble: Annotated[str | None, Doc("why the latest try failed, and what to do")]
    text: Annotated[str, Doc("all of it in a line")]


def forwarding(state: Forwarding) -> ForwardingMessage:
    """How far an engine has what is stored."""
    words = "has all that is stored"
    if state.waiting:
        words = f"{state.waiting} points wait for it, the oldest for {duration(state.behind_s)}"
    if state.trouble:
        words = f"{words}; {state.trouble}"
    if state.set_aside:
        words = f"{words}; refused and set aside: {state.set_aside}, the latest {state.refused}"
    return {
        "engine": state.engine,
        "behind_s": rounded(state.behind_s),
        "waiting": state.waiting,
        "set_aside": state.set_aside,
        "refused": state.refused or None,
        "trouble": state.trouble or None,
        "text": one_line(words, LONGEST_LINE),
    }
