"""What is next across the bench, in the line that a mark sends to the phone."""

from dataclasses import replace

from logger.alarms import burn_rules
from logger.burn.coming_up import coming_up
from logger.burn.marks import MarkTimes
from tests.support.pipeline_bench import LIMITS, START_S
from tests.support.weighed_burns import BURN

HOUR = 3600.0
TIMES = MarkTimes(at_s=(HOUR, 2.0 * HOUR))


def lit(station, lit_s=START_S, **more):
    return replace(BURN, id=f"{station}-1", station=station, lit_s=lit_s, out_s=None, **more)


def test_marks_and_ends_within_half_an_hour_at_the_other_stations():
    burns = [
        lit("jar-a"),
        lit("jar-b", START_S + 600.0),
        lit("jar-c", START_S - 3.0 * HOUR + 1500.0),
        lit("jar-d", START_S - 120.0, looked_s=(START_S + HOUR - 100.0,)),  # seen already
        replace(lit("jar-e"), out_s=START_S + 10.0),
    ]
    now_s = START_S + HOUR - 60.0
    line = coming_up(burns, TIMES, LIMITS, now_s, but="jar-a")
    assert line == "Next 30 min: jar-b 1 h look in 11 min, jar-c out in 26 min"
    assert coming_up(burns[:1], TIMES, LIMITS, now_s, but="jar-a") == ""
    finding = burn_rules.mark(burns[0], TIMES.at_s, now_s, lambda: line)
    assert finding.tell().endswith(f"record it on the page. {line}")
    assert burn_rules.mark(burns[0], TIMES.at_s, now_s).tell().endswith("record it on the page")
