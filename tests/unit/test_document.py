"""What happened, told in lines; places in the order a reader looks."""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import Priority
from logger.burn.entries import InSight, Lit, ManualReading, Note
from logger.burn.model import BurnEvent, BurnEventKind
from logger.quantities import DEGC, Place, Position, Quality, Quantity
from logger.reports.burn_history import checks, diary, silences, stories, together, watchers
from logger.reports.document import lettered
from logger.units import unit_of
from logger.words import Words
from tests.support.burn_from_formula import (
    BASE,
    HAND,
    LIT_S,
    ROOM,
    WALL_3,
    WALL_9,
    AlarmFromFormula,
    FormulaBurn,
    channel,
    estimate,
)


def test_an_alarm_is_one_line_from_raising_to_end():
    alarm = AlarmFromFormula("wall-limit", "wall-3", text="go")
    events = alarm.on(100.0).on(221.0).seen(230.0).off(300.0).events
    (story,) = stories(events)
    assert (story.number, story.rule, story.priority) == (1, "wall-limit", Priority.WARNING)
    assert (story.raised_s, story.ended_s) == (LIT_S + 100.0, LIT_S + 300.0)
    assert story.reminders == 1
    assert (story.acknowledged_s, story.acknowledged_by, story.acknowledged_where) == (
        LIT_S + 230.0,
        "Otto",
        "page",
    )


def test_raised_once_more_is_a_line_of_its_own():
    events = AlarmFromFormula("silent", "wall-3").on(100.0).off(200.0).on(300.0).events
    first, second = stories(events)
    assert (first.ended_s, second.ended_s) == (LIT_S + 200.0, None)
    assert second.number == 2


def test_seen_after_it_was_over_changes_no_end():
    (story,) = stories(AlarmFromFormula("silent", "wall-3").on(1.0).off(9.0).seen(50.0).events)
    assert (story.ended_s, story.acknowledged_s) == (LIT_S + 9.0, LIT_S + 50.0)


def test_one_plug_is_one_line_for_all_its_places():
    alarms = [AlarmFromFormula("silent", name) for name in ("wall-3", "wall-9", "base")]
    for alarm in alarms:
        alarm.on(100.0)
    alarms[2].seen(105.0)
    for alarm in alarms:
        alarm.off(120.0)
    told = stories(event for alarm in alarms for event in alarm.events)
    assert [[one.channel for one in same] for same in together(told)] == [
        ["wall-3", "wall-9"],
        ["base"],
    ]


def test_silence_begins_the_allowed_time_before_its_alarm():
    events = AlarmFromFormula("silent", "wall-3", limit=15.0).on(100.0).off(200.0).events
    (gap,) = silences(events, LIT_S + 900.0)["wall-3"]
    assert (gap.from_s, gap.to_s) == (LIT_S + 85.0, LIT_S + 200.0)


def test_silence_that_lasts_goes_to_the_end():
    events = AlarmFromFormula("silent", "wall-3", limit=15.0).on(100.0).seen(110.0).events
    (gap,) = silences(events, LIT_S + 900.0)["wall-3"]
    assert gap.to_s == LIT_S + 900.0


def test_other_alarms_are_no_silence():
    assert silences(AlarmFromFormula("wall-limit", "wall-3").on(5.0).events, LIT_S + 9.0) == {}


def burn_event(since_s, known_s, text):
    return BurnEvent(
        id=text,
        time_s=LIT_S + known_s,
        since_s=LIT_S + since_s,
        station="jar-a",
        burn="b",
        event=BurnEventKind.NOTE,
        text=text,
        by="Ines",
    )


def test_the_diary_is_in_order_of_what_happened_and_says_what_was_written_later():
    events = [burn_event(600.0, 600.4, "soon"), burn_event(300.0, 900.0, "late")]
    late, soon = diary(events, [], Words())
    assert (late.text, late.at_s, late.entered_s) == ("late", LIT_S + 300.0, LIT_S + 900.0)
    assert (soon.text, soon.by, soon.entered_s) == ("soon", "Ines", None)


def test_who_watched_is_one_line_without_a_command():
    def one(at_s, event, by):
        text = "who has it in sight? Answer with `wickbench burn in-sight jar-a`"
        return replace(burn_event(at_s, at_s, text), event=BurnEventKind(event), by=by or "")

    asked = [one(1800.0 * n, "who-watches", None) for n in (1, 2, 3)]
    said = [one(1800.0 * n + 60.0, "in-sight", by) for n, by in ((1, "Ines"), (2, "Otto"))]
    (line,) = diary([*asked, *said], [], Words())
    assert line.text == "jar-a: who has it in sight: asked 3 times, answered twice"
    assert (line.by, line.at_s) == ("Ines, Otto", LIT_S + 1800.0)
    (line,) = diary(asked[:1], [], Words())
    assert line.text == "jar-a: who has it in sight: asked once, never answered"
    (line,) = diary(said, [], Words())  # unasked: what was answered counts as asked
    assert line.text == "jar-a: who has it in sight: asked twice, answered twice"


@pytest.mark.parametrize(("unit", "values"), [(DEGC, "50.0, 51.5 °C"), ("degF", "122.0, 124.7 °F")])
def test_typed_readings_are_in_the_diary_in_the_unit_of_the_bench(unit, values):
    unit = unit if unit is DEGC else unit_of(unit, Quantity.TEMPERATURE)
    entry = ManualReading(
        at_s=LIT_S,
        entered_s=LIT_S + 1.0,
        id="m",
        by="Otto",
        station="jar-a",
        place=Place(position=Position.RIM, clock=12),
        values=(50.0, 51.5),
    )
    (line,) = diary([], [entry], Words(temperature_in=unit))
    assert line.text == f"jar-a: read by hand, rim, 12 o'clock: {values}"


def test_everyone_who_watched_is_named_once_and_what_was_confirmed():
    def at(kind, since_s, **more):
        return kind(
            at_s=LIT_S + since_s,
            entered_s=LIT_S + since_s,
            id=str(since_s),
            station="jar-a",
            **more,
        )

    entries = [
        at(Lit, 0.0, trial="t", watched_by="Ines", checks=("smoke alarm works",)),
        at(Note, 10.0, by="Zoe", text="only noted"),
        at(InSight, 7200.0, by="Ines"),
        at(InSight, 3600.0, by="Otto"),
    ]
    burn = FormulaBurn().record().burn
    assert watchers(burn, entries) == ("Ines", "Otto")
    assert checks(entries) == ("smoke alarm works",)
    assert watchers(burn, []) == ("Ines",)
    assert checks([]) is None


def test_places_are_lettered_walls_from_below_then_base_and_room_last():
    low = channel("low", height_mm=20.0, clock=3)
    mass = channel("mass")
    found = lettered(
        [ROOM, BASE, WALL_9, HAND, WALL_3, low, mass],
        {},
        lit_s=LIT_S,
        until_s=LIT_S + 10.0,
        to_s=LIT_S + 10.0,
        silences={},
        faults={},
    )
    assert [(one.letter, one.channel.name) for one in found] == [
        ("A", "mass"),
        ("B", "low"),
        ("C", "wall-3"),
        ("D", "wall-9"),
        ("E", "jar-a-hand-rim"),
        ("F", "base"),
        ("G", "room"),
    ]


def test_letters_do_not_run_out():
    many = [channel(f"wall-{n:02d}", height_mm=float(n)) for n in range(60)]
    times = {"lit_s": LIT_S, "until_s": LIT_S + 10.0, "to_s": LIT_S + 10.0}
    letters = [one.letter for one in lettered(many, {}, **times, silences={}, faults={})]
    assert len(set(letters)) == 60
    assert letters[25:28] == ["Z", "A1", "B1"]


def test_the_highest_of_a_place_is_of_its_good_estimates():
    more = (
        estimate("base", LIT_S + 7.0, 90.0, quality=Quality.DOUBTFUL),
        estimate("base", LIT_S + 8.0, 50.0, u=0.7),
    )
    series = {one.channel.name: one for one in FormulaBurn(more=more).series()}
    highest = series["base"].highest
    assert (highest.value_c, highest.standard_uncertainty_c, highest.at_s) == (
        50.0,
        0.7,
        LIT_S + 8.0,
    )


def test_gaps_are_drawn_on_after_the_burn_but_counted_only_within_it():
    found = [estimate("wall-3", LIT_S + 5.0 * n, 40.0) for n in range(101)]
    (series,) = lettered(
        [WALL_3],
        {"wall-3": found},
        lit_s=LIT_S,
        until_s=LIT_S + 500.0,
        to_s=LIT_S + 800.0,
        silences={},
        faults={},
    )
    assert [(gap.from_s, gap.to_s) for gap in series.gaps] == [(LIT_S + 500.0, LIT_S + 800.0)]
    assert series.coverage.gaps == ()
