"""Driver `scpi`: a bench meter or scanner that answers questions."""

from typing import Annotated, Literal

from logger.errors import DataError
from logger.settings import forms
from logger.settings.channels import ChannelKeys
from logger.settings.drivers.instrument_keys import Channels
from logger.settings.drivers.wired_keys import SerialKeys
from logger.settings.keys import Form, key


def _query(value: object) -> str:
    words: str = forms.text('"MEAS:TEMP? (@101)"').read(value)
    if "?" not in words or not words.isascii():
        raise DataError(f'"{words}" is not a question; write one as "MEAS:TEMP? (@101)"')
    return words


class ScpiChannelKeys(ChannelKeys):
    """A value in the answer to a question."""

    query: Annotated[str, Form(_query, '"MEAS:TEMP? (@101)"')] = key(
        "the question; one may serve several channels"
    )
    field: Annotated[int, forms.whole(0, 999, "0")] = key("which value of its answer, from 0", 0)


class ScpiKeys(SerialKeys):
    """Asked in SCPI."""

    place = ("query", "field")

    driver: Literal["scpi"] = key("how it is read", "scpi")
    start: forms.Texts = key("commands sent each time the port is opened", ())
    answer_within_s: forms.Seconds = key(
        "an answer takes no longer than this, in real time", "2 s", '"2 s"'
    )
    channel: Channels[ScpiChannelKeys]
