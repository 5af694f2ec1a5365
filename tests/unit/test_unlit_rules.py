"""A vessel that warms though nobody recorded it lit, and an emergency after a candle is out."""

import pytest

from logger.alarms.lifecycle import AlarmEvent, Priority
from logger.announcements import Announcer
from logger.burn.entries import Danger, Emergency, Lit, Out
from logger.burn.model import Burn
from logger.burn.safety import CHECKS, PUT_OUT
from logger.errors import Refused
from logger.messages import LONGEST_LINE
from logger.words import Words
from tests.support.pipeline_bench import START_S, Live


def stamps(live, name):
    return {"at_s": live.now_s, "entered_s": live.now_s, "id": f"{name}-{live.now_s}", "by": "Ann"}


def light(live, **more):
    live.put(Lit(**stamps(live, "lit"), station="jar-a", trial="wick-6", watched_by="Ann", **more))


def put_out(live):
    live.put(Out(**stamps(live, "out"), station="jar-a"))


def report(live, what=Danger.FLASH_OVER):
    live.put(Emergency(**stamps(live, "emergency"), station="jar-a", what=what))


def raised(live, rule):
    found = [e for e in live.of(AlarmEvent) if e.alarm.finding.rule == rule]
    return [(e.what, e.alarm.finding.priority) for e in found]


def warms(from_c, k_per_min):
    """From now on; both sides of the wall."""
    began = {}

    def course(t):
        return from_c + k_per_min * (t - began.setdefault("s", t)) / 60.0 + 0.05 * (t % 2)

    return {"wall": course, "twin": course, "room": 22.0}


def burned_and_out():
    live = Live()
    light(live)
    live.run(600, every_s=5, **warms(40.0, 1.0))
    put_out(live)
    return live


def test_a_vessel_that_warms_and_is_not_recorded_lit_is_a_caution_then_a_warning():
    live = Live()
    live.run(300, **warms(22.0, 0.0))
    live.run(1200, every_s=5, **warms(22.0, 1.5))
    found = raised(live, "warming-unlit")
    assert found[0] == ("raised", Priority.CAUTION)
    assert ("raised-again", Priority.WARNING) in found
    text = live.of(AlarmEvent)[-1].alarm.finding.text
    assert "no burn is recorded" in text
    light(live)
    live.run(10, **warms(52.0, 0.5))
    assert raised(live, "warming-unlit")[-1][0] in {"returned", "cleared"}


def test_steady_heat_does_not_end_it():
    live = Live()
    live.run(1200, every_s=5, **warms(22.0, 1.5))
    live.run(1800, every_s=5, **warms(52.0, 0.0))
    assert not [what for what, _ in raised(live, "warming-unlit") if what in {"returned"}]


@pytest.mark.parametrize("values", [
    pytest.param({"wall": lambda t: 22.0 + t / 30.0, "twin": 22.0, "room": 22.0}, id="one probe"),
    pytest.param({"wall": lambda t: 21.0 + t / 300.0, "twin": lambda t: 21.0 + t / 300.0,
                  "room": lambda t: 21.0 + t / 300.0}, id="a morning"),
])  # fmt: skip
def test_a_hand_on_a_probe_and_a_warming_room_raise_nothing(values):
    live = Live()
    live.run(1200, every_s=5, **values)
    assert raised(live, "warming-unlit") == []


def test_recorded_out_and_getting_hotter_is_raised_and_ends_with_the_fall():
    live = burned_and_out()
    live.run(120, **warms(50.0, -1.0))  # less than shows that it is out indeed
    live.run(600, **warms(48.0, 0.6))
    assert raised(live, "hotter-after-out")[0] == ("raised", Priority.WARNING)
    live.run(900, every_s=5, **warms(54.0, -1.5))
    assert raised(live, "hotter-after-out")[-1][0] == "returned"


def test_a_candle_that_cools_raises_neither():
    live = burned_and_out()
    live.run(3600, every_s=5, **warms(50.0, -0.4))
    assert raised(live, "hotter-after-out") == raised(live, "warming-unlit") == []


def test_a_wall_that_rose_and_already_falls_again_is_not_warming():
    live = Live()
    live.run(240, **warms(22.0, 0.0))
    light(live)
    live.run(240, **warms(22.0, 8.0))  # lit and out again within the ten minutes of a trace
    put_out(live)
    live.run(600, **warms(53.0, -2.0))
    assert raised(live, "warming-unlit") == []


def test_an_emergency_after_out_is_raised_and_its_wall_watched_until_seen_out_again():
    live = burned_and_out()
    live.run(900, every_s=5, **warms(50.0, -1.0))
    assert live.of(Burn)[-1].cooled
    report(live)
    assert raised(live, "emergency") == [("raised", Priority.DANGER)]
    assert "never lift it to look" in live.of(AlarmEvent)[-1].alarm.finding.text
    assert live.of(Burn)[-1].may_burn
    put_out(live)
    assert raised(live, "emergency")[-1][0] == "returned"
    with pytest.raises(Refused, match="already recorded out"):
        put_out(live)
    report(live, Danger.CRACK)
    assert raised(live, "emergency")[-1] == ("raised", Priority.DANGER)


def test_what_was_not_confirmed_before_lighting_is_a_caution_that_names_it():
    live = Live()
    light(live, checks=tuple(CHECKS.values())[1:])
    live.wait(1)
    assert raised(live, "unchecked") == [("raised", Priority.CAUTION)]
    text = live.of(AlarmEvent)[-1].alarm.finding.text
    assert "heat-proof tray" in text
    assert "smoke alarm" not in text


def test_of_many_checks_left_out_the_gravest_is_told_and_nothing_is_cut_off():
    live = Live()
    light(live, checks=())
    live.wait(1)
    events = [one for one in live.of(AlarmEvent) if one.alarm.finding.rule == "unchecked"]
    (told,) = Announcer(Words(), lambda: live.pipeline.burns, lambda: ()).announce(events)
    assert len(told.line) <= LONGEST_LINE
    first, *more = CHECKS.values()
    assert first in told.line
    assert f"; and {len(more)} more checks, see the page" in told.line
    assert PUT_OUT in told.line


@pytest.mark.parametrize("checks", [None, tuple(CHECKS.values())], ids=["replayed", "all"])
def test_nothing_is_said_where_all_is_confirmed_or_nobody_was_asked(checks):
    live = Live()
    light(live, checks=checks)
    live.wait(5)
    assert raised(live, "unchecked") == []
    assert live.of(Burn)[0].lit_s == START_S
