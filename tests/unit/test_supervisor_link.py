"""What an instrument's link tells about it."""

import pytest

from logger.instruments.instrument_link import (
    MOST_REASONS,
    OTHER_REASONS,
    InstrumentLink,
    LinkState,
    shown,
)


class Time:
    at_s = 100.0

    def __call__(self):
        return self.at_s


@pytest.fixture
def now():
    return Time()


@pytest.fixture
def news():
    return []


@pytest.fixture
def link(now, news):
    link = InstrumentLink("probes", now)
    link.report = news.append
    return link


def test_refusals_are_counted_by_channel_and_reason(link, now):
    link.refuse("no number", "41,x", "jar-wall")
    now.at_s = 103.0
    link.refuse("no number", "41,y", "jar-wall")
    link.refuse("no number", "z,22", "room")
    link.refuse("2 columns instead of 3", "41,22")
    found = link.refused["jar-wall", "no number"]
    assert (found.count, found.excerpt, found.at_s) == (2, "41,y", 103.0)
    assert link.refused_count("jar-wall") == 2
    assert link.refused_count("room") == 1
    assert link.refused_count() == 4


def test_endless_reasons_take_bounded_room_and_none_goes_uncounted(link):
    for number in range(1000):
        link.refuse(f"'{number}' is not a number", str(number), "jar-wall")
    assert len(link.refused) == MOST_REASONS + 1
    assert link.refused_count() == 1000
    assert link.refused[None, OTHER_REASONS].excerpt == "999"


def test_what_came_from_a_wire_is_shown_printable_and_short():
    assert shown("a\x1b[2Jb\u202ec\n") == "a\\x1b[2Jb\\u202ec\\n"
    assert len(shown("x" * 5000)) < 250


def test_nothing_but_refusals_becomes_news_once(link, now, news):
    link.note_opened()
    news.clear()
    for second in range(20):
        now.at_s = 100.0 + second
        link.refuse(f"'{second}?' is not a number", "", "jar-wall")
    assert [(one.ok, one.at_s) for one in news] == [(False, 105.0)]
    assert "jar-wall: '5?' is not a number" in news[0].reason
    link.note_heard(now.at_s)
    assert news[-1].ok


def test_chatter_between_readings_is_no_news(link, now, news):
    link.note_heard(now())
    news.clear()
    for second in range(60):
        now.at_s = 100.0 + second
        for _ in range(5):
            link.refuse("no columns", "converting")
        link.note_heard(now.at_s)
    assert news == []
    assert link.state is LinkState.UP


def test_two_cut_lines_far_apart_are_no_news(link, now, news):
    link.note_heard(now())
    news.clear()
    link.refuse("half a line", "41.")
    now.at_s += 60.0
    link.refuse("half a line", "42.")
    assert news == []
