"""Batteries and links of instruments: what is told, and what stays in a burn's record."""

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Acknowledge, Lit, Out
from logger.burn.link_record import LinkRecord, with_health
from logger.burn.model import Burn
from logger.burn.safety import LOW_BATTERY
from logger.quantities import Health, Part
from tests.support.pipeline_bench import START_S, WALL, Live

KEY = f"battery-low/{WALL}"


@pytest.fixture
def live():
    return Live()


def health(live, *, ok=True, name="probes", **more):
    live.put(Health(part=Part.INSTRUMENT, name=name, ok=ok, reason="so", at_s=live.now_s, **more))


def stamps(live, name):
    return {"at_s": live.now_s, "entered_s": live.now_s, "id": name, "by": "Ines"}


def light(live, name="lit"):
    live.wait(5)
    live.put(Lit(**stamps(live, name), station="jar-a", trial="w6"))


def put_out(live, name="out"):
    live.wait(5)
    live.put(Out(**stamps(live, name), station="jar-a"))


def told(live):
    events = [one for one in live.of(AlarmEvent) if one.alarm.key == KEY and one.tells]
    return [event.alarm.finding.text for event in events]


def test_a_low_battery_is_told_before_lighting_while_lit_and_when_out_again(live):
    for percent in (21, 20, 19, 18):
        health(live, battery_percent=percent)
        live.wait(60)
    assert len(told(live)) == 1
    assert told(live)[0] == "probes: battery at 20 %. Change it before you light a candle"
    light(live)
    for percent in (17, 16):
        health(live, battery_percent=percent)
        live.wait(600)
    assert len(told(live)) == 2
    assert told(live)[1].endswith(LOW_BATTERY)
    put_out(live)
    live.wait(600)
    assert len(told(live)) == 3
    light(live, "again")
    live.wait(600)
    assert len(told(live)) == 4


def test_that_somebody_has_seen_it_does_not_hide_it_in_the_next_burn(live):
    health(live, battery_percent=12)
    live.put(Acknowledge(**stamps(live, "seen"), alarm=KEY, where="page"))
    light(live)
    assert len(told(live)) == 2


def test_a_battery_that_falls_low_in_a_burn_is_told_once(live):
    health(live, battery_percent=30)
    light(live)
    for percent in (22, 20, 19, 20, 21, 20):
        health(live, battery_percent=percent)
        live.wait(60)
    assert len(told(live)) == 1


def test_a_fresh_battery_ends_it(live):
    health(live, battery_percent=10)
    health(live, battery_percent=100)
    assert (live.alarms("battery-low")[-1]) == ("cleared", KEY)
    light(live)
    assert len(told(live)) == 1


def test_what_tells_no_battery_raises_nothing(live):
    health(live)
    light(live)
    assert told(live) == []


def test_a_burn_keeps_how_often_its_probe_reconnected(live):
    health(live, reconnects=7, signal_dbm=-60, battery_percent=80)
    light(live)
    for count in range(8, 38):
        live.wait(60)
        health(live, ok=False, reconnects=count - 1, signal_dbm=-60)
        health(live, reconnects=count, signal_dbm=-60 - count, battery_percent=79)
    put_out(live)
    health(live, reconnects=40, signal_dbm=-99, battery_percent=3)
    (burn,) = live.pipeline.burns
    (record,) = burn.links
    assert record.instrument == "probes"
    assert record.reconnects == 30
    assert -97 <= record.weakest_dbm <= -92  # told in steps
    assert record.battery_percent == 79
    assert live.of(Burn)[-1].links or burn.links


def test_another_stations_instrument_is_no_part_of_the_burn(live):
    light(live)
    health(live, name="elsewhere", reconnects=3)
    assert live.pipeline.burns[0].links == ()


def test_counting_goes_on_after_the_service_was_started_again():
    record = LinkRecord(instrument="probes", reconnects=5)
    news = Health(
        part=Part.INSTRUMENT, name="probes", ok=True, reason="", at_s=START_S, reconnects=0
    )
    once_more = Health(
        part=Part.INSTRUMENT, name="probes", ok=True, reason="", at_s=START_S, reconnects=1
    )
    records = with_health((record,), news)
    (after,) = with_health(records, once_more, news)
    assert after.reconnects == 6
