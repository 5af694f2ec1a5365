"""The token; what a log line may look like."""

import logging

import pytest

from logger.service.foreground import OneLine
from logger.web.tokens import Token

RIGHT = "q9-Yc0bq0aMZ3Yt0q9bXo4vN1qgkq2y9m3m7k5d0F_s"


def test_a_token_fits_itself_and_nothing_else():
    token = Token(RIGHT)
    assert token.fits(RIGHT)
    for other in ("", RIGHT[:-1], RIGHT + "x", RIGHT.lower(), "ä", "\ud800"):
        assert not token.fits(other)


@pytest.mark.parametrize("show", [repr, str, "{}".format, "{!r}".format, "%s".__mod__])
def test_a_token_shows_itself_nowhere(show):
    assert RIGHT not in show(Token(RIGHT))
    assert RIGHT not in show({"token": Token(RIGHT)})


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
