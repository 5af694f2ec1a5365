"""The record as a page: complete, closed in itself, and nothing in it is markup but our own."""

import re
from dataclasses import replace

import pytest

from logger import messages
from logger.burn.consumption import Consumption
from logger.burn.entries import Danger
from logger.burn.link_record import LinkRecord
from logger.burn.model import BurnEvent, BurnEventKind
from logger.quantities import Quality, Quantity
from logger.reports.document_html import record_html
from logger.units import unit_of
from tests.support.burn_from_formula import LIT_S, AlarmFromFormula, FormulaBurn, estimate
from tests.support.record_page import Page, page

HOSTILE = "<script>alert(1)</script>\"'><img src=//x.example/y onerror=z>&amp;{{ 7*7 }}"


def test_it_says_what_was_burned_when_and_by_whom_watched():
    text = page().text
    for words in (
        "soy-7, wick 5",
        "Tester M6",
        "jar-a of the bench back-room",
        "5 May 2031, 11:05 (UTC+02:00)",  # lit at 09:05 UTC
        "4 h",
        "Watched by Ines",
        "smoke alarm works",
        "wickbench 9.9.9",
    ):
        assert words in text


def test_a_link_that_kept_breaking_is_said():
    record = FormulaBurn().record()
    links = (
        LinkRecord(instrument="probe-b", reconnects=30, weakest_dbm=-92, battery_percent=18),
        LinkRecord(instrument="probe-c", reconnects=1),
    )
    text = Page(record_html(replace(record, burn=replace(record.burn, links=links)))).text
    assert (
        "probe-b: lost its link and came back 30 times, signal down to -92 dBm, battery down to "
        "18 %; probe-c: lost its link and came back once" in text
    )
    assert "lost its link" not in page().text


def test_the_hottest_measured_place_has_its_uncertainty_its_place_and_time():
    text = page(more=(estimate("base", LIT_S + 9000.0, 57.0, u=0.4),)).text
    assert "57.0 °C ± 0.8 base, 2:30 (h:min) after lighting, at 13:35" in text


def test_figures_are_in_the_unit_of_the_bench():
    unit = unit_of("degF", Quantity.TEMPERATURE)
    text = page(peak_c=55.0, u=0.25, unit=unit).text
    assert "131.0 °F ± 0.9" in text
    assert "140.0 °F" in text


@pytest.mark.parametrize(
    ("burn", "words"),
    [
        pytest.param({"peak_c": 55.0}, "Stayed under the limit", id="pass"),
        pytest.param({"peak_c": 61.0}, "Failed Wall, 60 mm, 3 o'clock reached 61.0 °C", id="fail"),
        pytest.param({"peak_c": 59.8}, "Undecided", id="undecided"),
        pytest.param({"danger": Danger.CRACK}, "the vessel is cracked", id="danger"),
        pytest.param({"is_out": False}, "not recorded out", id="lit"),
    ],
)
def test_the_verdict_stands_at_the_top_with_its_reason(burn, words):
    text = page(**burn).text
    assert words in text[: text.index("Hottest measured place")]


def test_a_pass_is_of_the_burn_and_not_of_the_candle():
    text = page().text
    assert "applies to this burn only" in text
    assert "One burn never proves a candle" in text


def test_what_is_missing_and_how_it_was_judged_are_told():
    text = page(without={"wall-9": ((3600.0, 7200.0),)}).text
    assert "not measured for 1 h of 4 h" in text
    assert "Needed for a pass" in text
    assert "The limit is the maker's own" in text
    assert "no candle standard's figure" in text


def test_alarms_are_listed_with_what_people_did():
    alarm = AlarmFromFormula("wall-alert", "wall-3", text="jar-a reads 57.5, go and look")
    text = page(events=alarm.on(3600.0).seen(3660.0).off(3700.0).events).text
    assert "1 1:00 12:05:00 warning jar-a reads 57.5, go and look" in text
    assert "12:06:00 by Otto (page) 12:06:40" in text


def test_no_alarm_is_said_too():
    assert "Alarms None was raised." in page().text


def test_cautions_are_always_there():
    text = page().text
    for words in (
        "stays in sight of a person, whatever this tool says",
        "never means leaving a flame unattended",
        "children and pets",
        "smoke alarm",
        "local codes and by a licensed test laboratory",
    ):
        assert words in text


def hostile_burn():
    note = BurnEvent(
        id="n",
        time_s=LIT_S + 900.0,
        since_s=LIT_S + 60.0,
        station="jar-a",
        burn="b",
        event=BurnEventKind.NOTE,
        text=HOSTILE,
        by=HOSTILE,
    )
    alarm = AlarmFromFormula("silent", "wall-3", text=HOSTILE)
    alarm.on(100.0).seen(110.0, by=HOSTILE, where=HOSTILE)
    return {
        "trial": HOSTILE,
        "tester": HOSTILE,
        "bench": HOSTILE,
        "settings_text": HOSTILE,
        "events": (*alarm.events, messages.burn_event(note)),
    }


def test_whatever_people_wrote_stays_text():
    harmless = AlarmFromFormula("silent", "wall-3").on(100.0).seen(110.0)
    hostile, plain = page(**hostile_burn()), page(events=harmless.events)
    assert "script" not in hostile.tags
    assert "img" not in hostile.tags
    assert not [name for _, name, _ in hostile.attributes if name.startswith("on")]
    words = " ".join(HOSTILE.split())
    assert hostile.text.count(words) >= 8
    assert set(hostile.tags) == set(plain.tags) | {"span"}


def test_the_file_needs_nothing_outside_of_itself():
    record = FormulaBurn(without={"wall-9": ((5000.0, 6000.0),)}).record()
    text = record_html(record)
    found, curve = Page(text), f"#burn-{record.burn.short_id}"
    assert not {"script", "link", "img", "iframe", "object", "embed", "base"} & set(found.tags)
    assert not [a for a in found.attributes if a[1] in ("src", "href", "action", "srcset", "data")]
    within = {f"{curve}-hatch", f"{curve}-narrow-hatch", "#never", "#by-hand"}
    assert set(re.findall(r"url\(([^)]*)\)", text)) == within
    assert "@import" not in text
    assert set(re.findall(r"https?://[^\"' ]*", text)) == {"http://www.w3.org/2000/svg"}


def test_ids_are_there_once():
    ids = [value for _, name, value in page().attributes if name == "id"]
    assert len(ids) == len(set(ids)) > 0


def test_settings_are_folded_and_whole():
    found = page(settings_text='[bench]\nname = "a"\n')
    assert "details" in found.tags
    assert 'The settings in force, 2 lines [bench] name = "a"' in found.text


@pytest.mark.parametrize(
    "burn",
    [
        pytest.param({"channels": ()}, id="no channel"),
        pytest.param({"length_s": 0.0, "is_out": False}, id="just lit"),
        pytest.param({"material": None, "tester": ""}, id="nothing known of the candle"),
        pytest.param(
            {"more": (estimate("base", LIT_S + 1.0, None, u=None, quality=Quality.LOST),)},
            id="an estimate without a figure",
        ),
    ],
)
def test_little_makes_a_record_too(burn):
    assert "Cautions" in page(**burn).text


@pytest.mark.parametrize(
    ("masses", "says"),
    [
        ((None, None), "Not weighed"),
        ((532.4, None), "532.4 g before: the wax used is not known"),
        ((532.4, 300.0), "532.4 g before, 300.0 g after: the wax used is not known"),
    ],
)
def test_what_weighing_leaves_open_is_said(masses, says):
    weighed = Consumption(before_g=masses[0], after_g=masses[1])
    assert f"<dd>{says}</dd>" in record_html(replace(FormulaBurn().record(), weighed=weighed))
