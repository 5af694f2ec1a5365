"""Lines of several devices on one port."""

import pytest

from logger.instruments.decoders.lines import Format, Line, LineDecoder, Rejected
from logger.instruments.tagged_lines import TaggedLines


@pytest.fixture
def tagged():
    """Channels 0 and 2 come from device A, channel 1 from device B."""

    def decoder(fields):
        return LineDecoder(Format.CSV, fields, drop_head=False)

    return TaggedLines({"A": (decoder([2, 1]), (0, 2)), "B": (decoder([1]), (1,))}, separator=",")


def values(found):
    return [(value.field, value.value) for line in found for value in line.values]


def test_each_line_goes_to_the_channels_of_its_device(tagged):
    found = tagged.feed(b"tail\nA,41.5,42.5\r\nB,22.0\n")
    assert values(found) == [(0, 42.5), (2, 41.5), (1, 22.0)]


def test_bytes_cut_anywhere_give_the_same(tagged):
    data = b"tail\nA,41.5,42.5\r\nB,22.0\n"
    found = [one for at in range(len(data)) for one in tagged.feed(data[at : at + 1])]
    assert values(found) == [(0, 42.5), (2, 41.5), (1, 22.0)]


def test_what_cannot_be_read_is_named_by_its_own_channel(tagged):
    tagged.feed(b"\n")
    line, refused = tagged.feed(b"A,nan,42.5\n")
    assert isinstance(line, Line)
    assert isinstance(refused, Rejected)
    assert refused.field == 2


def test_a_device_that_nobody_configured_is_refused(tagged):
    tagged.feed(b"\n")
    (refused,) = tagged.feed(b"C,41.5\n# a remark\n")
    assert refused.field is None
    assert "none of the devices A, B" in refused.reason
