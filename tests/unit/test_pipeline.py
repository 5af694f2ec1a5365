"""The pipeline's step: readings to estimates, alarms, burns."""

import random
from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent, AlarmState, Priority
from logger.announcements import Announcer
from logger.burn.entries import (
    Acknowledge,
    Calibrated,
    Danger,
    Emergency,
    Lit,
    ManualReading,
    Note,
    Out,
)
from logger.burn.model import Burn, BurnEvent, BurnPhase, BurnStatus
from logger.conditioning.calibration import Correction
from logger.errors import Refused
from logger.pipeline import Memory, Pipeline, Seconds, begun
from logger.quantities import (
    Estimate,
    Health,
    Part,
    Place,
    Position,
    Quality,
    Quantity,
    Reading,
)
from logger.reports.burn_history import stories
from tests.support.pipeline_bench import (
    ROOM,
    START_S,
    TWIN,
    WALL,
    Live,
    bench,
    lit,
    noisy,
    out,
    stamps,
)


def test_a_tick_comes_before_what_is_stamped_with_its_second():
    seconds = Seconds(10.0)
    assert [tick.at_s for tick in seconds.upto(12.5)] == [11.0, 12.0]
    assert list(seconds.upto(12.9)) == list(seconds.upto(11.0)) == []
    assert [tick.at_s for tick in seconds.upto(13.0)] == [13.0]
    assert [tick.at_s for tick in begun(10.0).upto(10.0)] == [10.0]
    assert list(begun(10.2).upto(10.9)) == []


def test_estimates_are_published_at_their_interval_for_every_channel_that_was_heard():
    live = Live()
    live.run(21, wall=noisy(40.0), room=noisy(22.0))
    times = [e.at_s - START_S for e in live.of(Estimate) if e.channel == WALL]
    published = {e.channel for e in live.of(Estimate)}
    assert times == [5, 10, 15, 20]
    assert published == {WALL, ROOM}
    last = [e for e in live.of(Estimate) if e.channel == WALL][-1]
    assert last.value == pytest.approx(40.0, abs=0.3)
    assert last.quality is Quality.GOOD


def test_a_wall_that_climbs_through_both_lines_raises_alert_then_limit_and_returns_cool():
    live = Live()
    live.put(lit())
    live.run(600, wall=lambda t: 50.0 + t / 60.0 + 0.1 * (t % 2))
    live.run(600, wall=lambda t: 60.0 + (t - 600) / 120.0 + 0.1 * (t % 2))
    assert live.alarms("wall-alert")[0] == ("raised", f"wall-alert/{WALL}")
    assert live.alarms("wall-limit")[0] == ("raised", f"wall-limit/{WALL}")
    crossed = next(e for e in live.of(AlarmEvent) if e.alarm.finding.rule == "wall-limit")
    assert crossed.alarm.finding.priority is Priority.WARNING
    assert crossed.alarm.burn == live.of(Burn)[0].id
    assert "60.0 °C" in crossed.alarm.finding.text
    assert "no water" in crossed.alarm.finding.text
    live.run(900, wall=lambda t: 65.0 - (t - 1200) / 60.0)
    assert live.alarms("wall-limit")[-1] == ("returned", f"wall-limit/{WALL}")


def test_over_the_limit_a_place_has_one_alarm_and_below_it_the_lower_one_again():
    live = Live()
    live.put(lit())
    live.run(120, wall=noisy(58.5))
    live.put(Acknowledge(**stamps(live.now_s), alarm=f"wall-alert/{WALL}", where="page"))
    live.run(180, wall=noisy(62.0))
    standing = [
        alarm.key for alarm in live.pipeline.alarms if alarm.active and "wall" in alarm.finding.rule
    ]
    assert standing == [f"wall-limit/{WALL}"]
    told = Announcer(bench().words, lambda: live.pipeline.burns, lambda: live.pipeline.alarms)
    live.outputs.clear()
    lines = []
    for _ in range(300):
        before = len(live.outputs)
        live.run(1, wall=noisy(58.6))
        lines += told.announce(live.outputs[before:])
    assert live.alarms("wall-limit") + live.alarms("wall-alert") == [
        ("returned", f"wall-limit/{WALL}"),
        ("raised", f"wall-alert/{WALL}"),
    ]
    assert not any(one.calls for one in lines if "near your limit" in one.line)  # it was worse
    live.run(200, wall=noisy(50.0))
    assert live.alarms("wall-alert")[-1] == ("returned", f"wall-alert/{WALL}")


def test_the_story_of_an_alert_ends_where_the_limit_took_its_place():
    live = Live()
    live.put(lit())
    live.run(600, wall=lambda t: 55.0 + t / 60.0 + 0.1 * (t % 2))
    told = [one for one in stories(live.of(AlarmEvent)) if one.rule in ("wall-alert", "wall-limit")]
    alert, limit = told
    assert (alert.rule, limit.rule) == ("wall-alert", "wall-limit")
    assert alert.superseded
    assert alert.ended_s == limit.raised_s
    assert not limit.superseded
    assert limit.ended_s is None
    over = next(one for one in live.outputs if getattr(one, "what", "") == "superseded")
    announcer = Announcer(bench().words, lambda: live.pipeline.burns, lambda: live.pipeline.alarms)
    assert announcer.announce([over]) == []  # nobody is told that it is over


def test_flame_hits_raise_no_wall_alarm():
    live = Live()
    live.put(lit())
    rng = random.Random(3)
    live.run(900, wall=lambda t: 45.0 + rng.gauss(0, 0.5) + (40.0 if t % 20 in (4, 5, 6) else 0.0))
    assert live.alarms("wall-limit") == []
    assert max(e.rejected for e in live.of(Estimate)) >= 3


def test_a_wall_alarm_does_not_return_because_the_probe_went_silent():
    live = Live()
    live.put(lit())
    live.run(300, wall=noisy(62.0), twin=noisy(50.0))
    live.run(300, twin=noisy(50.0))
    assert ("returned", f"wall-limit/{WALL}") not in live.alarms("wall-limit")
    assert ("raised", f"silent/{WALL}") in live.alarms("silent")


def test_silence_is_told_from_the_start_and_quotes_the_instruments_trouble():
    live = Live()
    live.put(
        Health(part=Part.INSTRUMENT, name="probes", ok=False, reason="no such port", at_s=START_S)
    )
    live.wait(20)
    raised = [e for e in live.of(AlarmEvent) if e.alarm.finding.rule == "silent"]
    assert {e.alarm.finding.channel for e in raised} == {WALL, TWIN, ROOM}
    assert all("no such port" in e.alarm.finding.text for e in raised)
    assert raised[0].time_s - START_S == 16.0


def test_silence_of_a_lit_candle_is_a_warning_though_it_began_as_a_caution():
    live = Live()
    live.wait(20)
    live.put(lit(live.now_s))
    live.wait(2)
    last = [e for e in live.of(AlarmEvent) if e.alarm.key == f"silent/{WALL}"][-1]
    assert (last.what, last.alarm.finding.priority) == ("raised-again", Priority.WARNING)


def test_a_slow_instrument_is_silent_only_after_three_of_its_own_intervals():
    live = Live()
    for _ in range(20):
        live.put(Reading(channel=WALL, value=40.0, at_s=live.now_s))
        live.wait(30)
    live.outputs.clear()
    live.wait(59)
    assert (("raised", f"silent/{WALL}")) not in live.alarms("silent")
    live.wait(5)
    assert (("raised", f"silent/{WALL}")) in live.alarms("silent")


def test_burn_ending_and_burn_too_long_come_in_time_and_end_with_out():
    live = Live()
    live.put(lit())
    live.wait(int(3.75 * 3600))
    assert live.alarms("burn-ending") == [("raised", "burn-ending/jar-a")]
    live.wait(901)
    assert live.alarms("burn-too-long") == [("raised", "burn-too-long/jar-a")]
    live.put(out(live.now_s))
    assert live.alarms("burn-ending")[-1] == ("cleared", "burn-ending/jar-a")
    assert live.alarms("burn-too-long")[-1][0] == "returned"


def test_a_burn_keeps_its_hottest_measured_place():
    live = Live()
    live.put(lit())
    live.run(120, wall=noisy(50.0), twin=noisy(53.0), room=noisy(70.0))
    burn = live.of(Burn)[-1]
    assert burn.hottest.channel == TWIN
    assert burn.hottest.value_c == pytest.approx(53.0, abs=0.4)
    status = live.of(BurnStatus)[-1]
    assert status.phase is BurnPhase.LIT
    assert status.margin_c == pytest.approx(60.0 - status.hottest.upper_c)
    assert status.elapsed_s == pytest.approx(120.0, abs=1.0)
    assert status.automatic


def test_readings_by_hand_alone_are_judged_and_never_called_automatic():
    live = Live()
    live.put(lit())
    place = Place(position=Position.WALL, height_mm=60.0, clock=3)
    entry = ManualReading(
        **stamps(live.now_s), station="jar-a", place=place, values=(61.0, 61.2, 60.9)
    )
    live.put(entry)
    assert ("raised", "wall-limit/jar-a-hand-wall-60-3") in live.alarms()
    live.wait(1)
    assert not live.of(BurnStatus)[-1].automatic
    assert live.of(BurnStatus)[-1].hottest.channel == "jar-a-hand-wall-60-3"


def test_a_place_read_before_a_lighting_counts_for_nothing_in_the_burn():
    live = Live()
    place = Place(position=Position.WALL, height_mm=60.0, clock=3)

    def read(value_c):
        entry = ManualReading(
            **stamps(live.now_s, entry_id=f"read-{value_c}"),
            station="jar-a",
            place=place,
            values=(value_c, value_c + 0.2, value_c - 0.1),
        )
        live.put(entry)
        live.wait(1)

    read(41.0)
    assert live.of(BurnStatus)[-1].hottest.value_c == pytest.approx(41.0, abs=0.1)
    live.wait(300)
    live.put(lit(live.now_s))
    live.wait(60)
    assert live.of(BurnStatus)[-1].hottest is None
    read(61.5)
    assert live.of(BurnStatus)[-1].hottest.value_c == pytest.approx(61.5, abs=0.1)
    first = live.of(Burn)[-1]
    live.put(Acknowledge(**stamps(live.now_s), alarm="wall-limit/jar-a-hand-wall-60-3", where=""))
    live.put(out(live.now_s))
    live.wait(7200)
    live.outputs.clear()
    live.put(replace(lit(live.now_s), id="entry-2"))
    live.wait(1200)
    assert live.of(Burn)[-1].id != first.id
    assert live.of(BurnStatus)[-1].hottest is None
    assert [what for what, _ in live.alarms("wall-limit")] == ["cleared"]  # of the earlier burn


def test_an_emergency_is_a_danger_until_the_candle_is_seen_out():
    live = Live()
    live.put(lit())
    live.wait(60)
    live.put(Emergency(**stamps(live.now_s), station="jar-a", what=Danger.FLASH_OVER))
    raised = next(e for e in live.of(AlarmEvent) if e.alarm.finding.rule == "emergency")
    assert raised.alarm.finding.priority is Priority.DANGER
    assert live.of(Burn)[-1].danger is Danger.FLASH_OVER
    live.wait(10)
    live.put(out(live.now_s))
    assert live.alarms("emergency")[-1] == ("returned", "emergency/jar-a")


def test_acknowledging_names_who_and_where():
    live = Live()
    live.wait(20)
    key = f"silent/{WALL}"
    (event,) = live.put(Acknowledge(**stamps(live.now_s), alarm=key, where="page"))
    assert event.alarm.state is AlarmState.ACKNOWLEDGED
    assert (event.alarm.acknowledged_by, event.alarm.acknowledged_where) == ("Ann", "page")


@pytest.mark.parametrize(
    ("entry", "because"),
    [
        pytest.param(lit(START_S + 10), "already lit", id="lit twice"),
        pytest.param(
            replace(out(START_S - 10), entered_s=START_S), "not yet lit", id="out before lit"
        ),
        pytest.param(
            Out(**stamps(START_S), station="jar-x"), "no station jar-x", id="unknown station"
        ),
        pytest.param(
            Acknowledge(**stamps(START_S), alarm="wall-limit/nowhere"), "no alarm", id="no alarm"
        ),
    ],
)
def test_what_contradicts_the_bench_is_refused_and_changes_nothing(entry, because):
    live = Live()
    live.put(lit())
    before = (live.pipeline.burns, live.pipeline.alarms)
    with pytest.raises(Refused, match=because):
        live.put(entry)
    assert (live.pipeline.burns, live.pipeline.alarms) == before


def test_a_note_without_any_burn_is_refused():
    with pytest.raises(Refused, match="no burn yet"):
        Live().put(Note(**stamps(START_S), station="jar-a", text="flickers"))


def test_a_lighting_without_a_trial_is_refused():
    with pytest.raises(Refused, match="trial"):
        Live().put(lit(trial=""))


def test_a_restarted_pipeline_goes_on_where_it_was():
    live = Live()
    live.put(lit())
    readings = []
    for step in range(300):
        reading = Reading(channel=WALL, value=61.0 + 0.1 * (step % 3), at_s=live.now_s)
        readings.append(reading)
        live.put(reading)
        live.wait(1)
    live.put(Acknowledge(**stamps(live.now_s), alarm=f"wall-limit/{WALL}"))
    memory = Memory(
        burns=live.pipeline.burns,
        alarms=live.pipeline.alarms,
        readings=tuple(readings),
        burn_events={live.pipeline.burns[0].id: len(live.of(BurnEvent))},
    )
    resumed = Live(Pipeline(bench(), live.now_s, memory), live.now_s)
    resumed.run(30, wall=61.0)
    assert resumed.alarms("wall-limit") == []
    estimate = resumed.of(Estimate)[-1]
    assert estimate.value == pytest.approx(61.0, abs=0.1)
    ids = {event.id for event in live.of(AlarmEvent) + live.of(BurnEvent)}
    resumed.put(out(resumed.now_s))
    new = [event.id for event in resumed.of(AlarmEvent) + resumed.of(BurnEvent)]
    assert new
    assert not ids & set(new)


def test_the_same_inputs_give_the_same_outputs():
    def once():
        live = Live()
        live.put(lit())
        live.run(200, wall=noisy(59.0, 0.8, seed=7), room=noisy(22.0, seed=8))
        return live.outputs

    assert once() == once()


def calibrated(at_s, offset, channel=WALL, quantity=Quantity.TEMPERATURE):
    return Calibrated(
        **stamps(at_s, f"calibrated-{offset}"),
        channel=channel,
        quantity=quantity,
        reference="an ice bath",
        method="offset",
        correction=Correction(offset=offset),
    )


def test_a_calibration_counts_from_its_entry_on_and_the_burn_tells_of_it():
    live = Live()
    live.put(lit())
    live.run(60, wall=noisy(59.0), twin=noisy(40.0), room=noisy(22.0))
    outputs = live.put(calibrated(live.now_s, 2.0))
    assert [(e.event, e.by) for e in outputs] == [("calibrated", "Ann")]
    assert "jar-a-wall-3 (wall, 60 mm, 3 o'clock) calibrated against an ice bath" in outputs[0].text
    live.run(10, wall=noisy(59.0), twin=noisy(40.0), room=noisy(22.0))
    (latest,) = (e for e in live.pipeline.estimates if e.channel == WALL)
    assert latest.value == pytest.approx(61.0, abs=0.3)
    assert ("raised", f"wall-limit/{WALL}") in live.alarms()  # it does not wait for new readings
    assert not live.alarms("sensor-fault")
    assert not live.alarms("rise-rate")


def test_a_calibration_is_no_fall_of_the_wall():
    live = Live()
    live.put(lit())
    live.run(900, wall=noisy(50.0), room=noisy(22.0))
    live.put(calibrated(live.now_s, -5.0))
    live.run(120, wall=noisy(50.0), room=noisy(22.0))
    assert not live.alarms("flame-out")


def test_a_restarted_pipeline_corrects_as_the_one_before():
    entries = (calibrated(START_S - 9e6, 9.0), calibrated(START_S, -1.0, channel=TWIN))
    live = Live(Pipeline(bench(), START_S, Memory(calibrations=entries)))
    live.run(30, wall=40.0, twin=40.0)
    assert {e.channel: e.value for e in live.pipeline.estimates} == {
        WALL: pytest.approx(49.0),
        TWIN: pytest.approx(39.0),
    }


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        pytest.param({"channel": "jar-z"}, "no channel jar-z", id="channel"),
        pytest.param({"quantity": Quantity.MASS}, "measures temperature, not mass", id="quantity"),
    ],
)
def test_a_calibration_of_what_is_not_there_changes_nothing(wrong, words):
    live = Live()
    live.run(30, wall=40.0)
    with pytest.raises(Refused, match=words):
        live.put(calibrated(live.now_s, 2.0, **wrong))
    live.run(10, wall=40.0)
    assert live.pipeline.estimates[0].value == pytest.approx(40.0)


def test_out_is_always_possible_and_a_lighting_of_1970_is_not():
    live = Live()
    lit = {"id": "lit", "station": "jar-a", "trial": "cedar-6"}
    with pytest.raises(Refused, match="over 31 days ago"):
        live.put(Lit(at_s=0.0, entered_s=START_S, **lit))
    live.put(Lit(at_s=START_S, entered_s=START_S, **lit))
    early_s = START_S - 86_400.0  # by a clock that was set back since
    out = {"id": "out", "station": "jar-a"}
    with pytest.raises(Refused, match="not yet lit"):
        live.pipeline.step(Out(at_s=early_s - 1.0, entered_s=early_s, **out))
    live.pipeline.step(Out(at_s=early_s, entered_s=early_s, **out))
    (burn,) = live.pipeline.burns
    assert burn.out_s == burn.lit_s


def test_a_start_returns_no_silence_before_something_was_heard():
    live = Live()
    live.put(Lit(at_s=START_S, entered_s=START_S, id="lit", station="jar-a", trial="cedar-6"))
    live.run(40, twin=40.0, room=22.0)
    memory = Memory(burns=live.pipeline.burns, alarms=live.pipeline.alarms)
    again = Live(Pipeline(bench(), live.now_s, memory), live.now_s)
    again.run(5, twin=40.0, room=22.0)
    assert again.alarms("silent") == []
    again.run(2, wall=40.0, twin=40.0, room=22.0)
    assert again.alarms("silent") == [("returned", f"silent/{WALL}")]
