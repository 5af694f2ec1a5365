"""The line protocol, by lines as its reference has them: what we write is what others write.

InfluxDB reference, "Line protocol", sections "Special characters" and "Naming restrictions" (from
memory): measurement, comma, tags; a space; fields; a space; the time in nanoseconds. Comma, equals
sign and space are escaped in tag values; quote and backslash in text fields; integers end in i; no
line break; a tag value is never empty.
"""

from dataclasses import dataclass

import pytest

from logger.burn.model import BurnEvent
from logger.publish.points import line
from logger.quantities import Channel, Estimate, Place, Position, Quality, Quantity, Reading


@dataclass(frozen=True)
class Row:
    kind: str
    what: object
    channel: Channel | None = None
    row: int = 0


def reading(name):
    return line("b", Row("reading", Reading(channel=name, value=82.0, at_s=1_465_839_830.1004)))


def note(text):
    event = BurnEvent(
        id="1", time_s=1.0, since_s=1.0, station="a", burn="a-1", event="note", text=text
    )
    return line("b", Row("event", event))


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("us-midwest", "us-midwest"),
        ("us,midwest", r"us\,midwest"),
        ("temp=rature", r"temp\=rature"),
        ("location place", r"location\ place"),
        ("Grüße", "Grüße"),
    ],
)
def test_special_characters_of_tags(name, written):
    assert reading(name) == f"reading,bench=b,channel={written} value=82 1465839830100400000"


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("too hot/cold", "too hot/cold"),
        ('"launch, countdown"', r"\"launch, countdown\""),
        ("too hot\\cold", r"too hot\\cold"),
        ("a = b", "a = b"),
        ("two\nlines", "two lines"),
    ],
)
def test_special_characters_of_texts(text, written):
    fields = f'burn="a-1",id="1",text="{written}"'
    assert note(text) == f"event,bench=b,event=note,kind=burn,station=a {fields} 1000000000"


def test_numbers_truth_and_absent_tags():
    channel = Channel(
        name="room",
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.ROOM),  # of no station
    )
    estimate = Estimate(
        channel="room",
        at_s=1.0,
        value=22.5,
        standard_uncertainty=1e-05,
        repeatability=0.1,
        used=27,
        rejected=0,
        quality=Quality.DOUBTFUL,
    )
    assert line("b", Row("estimate", estimate, channel)) == (
        "estimate,bench=b,channel=room,place=room,quantity=temperature "
        'good=false,quality="doubtful",rejected=0i,standard_uncertainty=1e-05,used=27i,value=22.5 '
        "1000000000"
    )
