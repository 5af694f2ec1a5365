"""The token and the patience with wrong ones; what a log line may look like."""

import logging

import pytest

from logger.service.foreground import OneLine
from logger.web.tokens import EACH_S, MOST_ADDRESSES, MOST_WRONG, Token, WrongTokens

RIGHT = "q9-Yc0bq0aMZ3Yt0q9bXo4vN1qgkq2y9m3m7k5d0F_s"


class SteadyTime:
    """A clock that nobody sets."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def time():
    return SteadyTime()


@pytest.fixture
def patience(time):
    return WrongTokens(time)


def guess(patience, address, count, first=0):
    for number in range(first, first + count):
        assert patience.wait_s(address) == 0.0
        patience.wrong(address, f"guess {number}")


def test_a_token_fits_itself_and_nothing_else():
    token = Token(RIGHT)
    assert token.fits(RIGHT)
    for other in ("", RIGHT[:-1], RIGHT + "x", RIGHT.lower(), "ä", "\ud800"):
        assert not token.fits(other)


@pytest.mark.parametrize("show", [repr, str, "{}".format, "{!r}".format, "%s".__mod__])
def test_a_token_shows_itself_nowhere(show):
    assert RIGHT not in show(Token(RIGHT))
    assert RIGHT not in show({"token": Token(RIGHT)})


def test_after_ten_wrong_tokens_an_address_waits(patience, time):
    guess(patience, "192.0.2.7", MOST_WRONG)
    assert patience.wait_s("192.0.2.7") == pytest.approx(EACH_S)
    time.now_s += EACH_S
    guess(patience, "192.0.2.7", 1, first=MOST_WRONG)  # one more, then it waits again
    assert patience.wait_s("192.0.2.7") == pytest.approx(EACH_S)
    assert patience.wait_s("192.0.2.8") == 0.0  # nobody else does


def test_a_minute_of_peace_gives_all_tries_back(patience, time):
    guess(patience, "192.0.2.7", MOST_WRONG)
    time.now_s += MOST_WRONG * EACH_S
    guess(patience, "192.0.2.7", MOST_WRONG, first=100)


def test_a_page_left_open_with_an_old_token_locks_nobody_out(patience):
    for _ in range(100):
        patience.wrong("192.0.2.7", "the token of last year")
    assert patience.wait_s("192.0.2.7") == 0.0


def test_a_network_of_ipv6_counts_as_one(patience):
    for number in range(MOST_WRONG):
        patience.wrong(f"2001:db8::{number}", f"guess {number}")
    assert patience.wait_s("2001:db8::ffff") > 0.0
    assert patience.wait_s("2001:db8:0:1::1") == 0.0


def test_one_address_counts_alike_in_both_spellings(patience):
    guess(patience, "::ffff:192.0.2.7", MOST_WRONG)
    assert patience.wait_s("192.0.2.7") > 0.0
    assert patience.wait_s("::ffff:192.0.2.8") == 0.0


def test_addresses_without_end_take_no_room_without_end(patience):
    guess(patience, "192.0.2.7", MOST_WRONG)
    for number in range(5 * MOST_ADDRESSES):
        patience.wrong(f"2001:db8:{number // 4096:x}:{number % 4096:x}::1", "a guess")
    assert len(patience._shown) == MOST_ADDRESSES


@pytest.mark.parametrize(
    "hostile",
    ["one\nERROR forged: two", "\x1b]0;title\x07", "a\r b", "\u2028", "\u202egnp.exe", "\x9b31m"],
    ids=ascii,
)
def test_what_others_wrote_is_no_line_of_its_own_in_the_log(hostile):
    record = logging.LogRecord("probes", logging.ERROR, "", 0, "said: %s", (hostile,), None)
    line = OneLine("%(levelname)s %(name)s: %(message)s").format(record)
    assert line.startswith("ERROR probes: said: ")
    assert line.isprintable()


def test_a_traceback_keeps_its_lines_set_in():
    try:
        raise ValueError("one\nERROR forged: two")
    except ValueError as exc:
        error = (ValueError, exc, exc.__traceback__)
    record = logging.LogRecord("probes", logging.ERROR, "", 0, "failed", (), error)
    first, *rest = OneLine("%(levelname)s %(name)s: %(message)s").format(record).splitlines()
    assert first == "ERROR probes: failed"
    assert len(rest) > 2
    assert all(line.startswith("  | ") for line in rest)
