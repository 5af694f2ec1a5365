"""Entries corrected and withdrawn: what follows is as if they had been right from the start."""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import (
    Corrected,
    Danger,
    Emergency,
    Lit,
    ManualReading,
    Note,
    Out,
    WeighIn,
    Withdrawn,
)
from logger.burn.limits import Material, Station
from logger.burn.model import Burn, BurnEvent
from logger.burn.trials import nearly
from logger.errors import Refused
from logger.hub import Hub
from logger.pipeline import Bench, Memory, Pipeline
from logger.quantities import (
    Channel,
    Estimate,
    Kind,
    Place,
    Position,
    Quality,
    Quantity,
    Reading,
    Tick,
)
from logger.units import unit_of
from tests.support.pipeline_bench import LIMITS

AT_S = 1_940_000_000.0
HOUR_S = 3600.0
WALL = Place(position=Position.WALL, height_mm=60.0, clock=3)
DEGF = unit_of("degF", Quantity.TEMPERATURE)
SENSED = Channel(
    name="jar-a-wall-9",
    instrument="probes",
    station="jar-a",
    place=Place(position=Position.WALL, height_mm=60.0, clock=9),
    quantity=Quantity.TEMPERATURE,
    kind=Kind.CONTACT,
)


def bench(*channels):
    stations = tuple(Station(name=n, material=Material.GLASS) for n in ("jar-a", "jar-b"))
    return Bench(channels=channels, stations=stations, limits=LIMITS)


def stamps(id, at_s, entered_s=None):
    return {"id": id, "at_s": at_s, "entered_s": at_s if entered_s is None else entered_s}


def lit(at_s=AT_S, *, entered_s=None, id="lit-0001", trial="amber-6", **more):
    return Lit(**stamps(id, at_s, entered_s), station="jar-a", trial=trial, **more)


def out(at_s, id="out-0001"):
    return Out(**stamps(id, at_s), station="jar-a")


def read(*values, id="read-0001", at_s=AT_S + 600.0, **more):
    return ManualReading(**stamps(id, at_s), station="jar-a", place=WALL, values=values, **more)


def tapped(at_s=AT_S + 900.0, id="tap-0001", what=Danger.CRACK):
    return Emergency(**stamps(id, at_s), station="jar-a", what=what)


def corrected(entry, at_s, why="a slip of the keys", **right):
    return Corrected(
        **stamps(f"put-right-{at_s:.0f}", at_s), by="Ines", entry=entry, why=why, **right
    )


def withdrawn(entry, at_s, why="a slip of the keys"):
    return Withdrawn(**stamps(f"taken-back-{at_s:.0f}", at_s), by="Ines", entry=entry, why=why)


class Folded:
    """A pipeline with its hub, and all that came of what was put in."""

    def __init__(self, *items, memory=None, channels=()):
        self.pipeline, self.hub = Pipeline(bench(*channels), AT_S - HOUR_S, memory), Hub()
        self.hub.resume(self.pipeline, AT_S - HOUR_S)
        self.outputs, self.items = [], []
        self.put(*items)

    def put(self, *items):
        for item in items:
            self.last = self.pipeline.step(item)
            self.outputs += self.last
            self.items.append(item)
            self.hub.publish(item, self.last)
        return self

    @property
    def burn(self):
        return {burn.station: burn for burn in self.pipeline.burns}.get("jar-a")

    def state(self, key):
        return next((a.state.value for a in self.pipeline.alarms if a.key == key), "normal")

    def events(self, kind=BurnEvent):
        return [one for one in self.last if isinstance(one, kind)]


def as_if(changed, right):
    """What both came to must be the same."""
    assert changed.burn == right.burn
    assert changed.hub.burns.get("jar-a") == right.hub.burns.get("jar-a")
    statuses = [one.pipeline.statuses(AT_S + 5 * HOUR_S) for one in (changed, right)]
    assert statuses[0] == statuses[1]
    assert changed.hub.estimates == right.hub.estimates


@pytest.mark.parametrize(
    ("wrong", "change", "right"),
    [
        pytest.param(
            [lit(trial="ambr-6", tester="M5", watched_by="Ines", mass_g=532.0)],
            corrected(
                "lit-0001",
                AT_S + 60.0,
                trial="amber-6",
                tester="M6",
                watched_by="Jo",
                mass_g=523.0,
                wax_g=220.0,
            ),
            [lit(tester="M6", watched_by="Jo", mass_g=523.0, wax_g=220.0)],
            id="lighting",
        ),
        pytest.param(
            [lit(AT_S + 1800.0), read(48.0, 48.2, at_s=AT_S + 2000.0)],
            corrected("lit-0001", AT_S + 2400.0, happened_s=AT_S),
            [lit(AT_S), read(48.0, 48.2, at_s=AT_S + 2000.0)],
            id="lit earlier",
        ),
        pytest.param(
            [lit(), read(98.0, 98.4)],
            corrected("read-0001", AT_S + 700.0, typed_in=DEGF),
            [lit(), read(*map(DEGF.inside, (98.0, 98.4)), typed_in=DEGF)],
            id="reading in the wrong unit",
        ),
        pytest.param(
            [lit(), read(84.0, 84.2)],
            corrected("read-0001", AT_S + 700.0, figures=(48.0, 48.2), clock=9),
            [lit(), replace(read(48.0, 48.2), place=replace(WALL, clock=9))],
            id="values and place of a reading",
        ),
        pytest.param(
            [lit(), read(84.0, 84.2)],
            withdrawn("read-0001", AT_S + 700.0),
            [lit()],
            id="reading withdrawn",
        ),
        pytest.param(
            [lit(), tapped()], withdrawn("tap-0001", AT_S + 960.0), [lit()], id="emergency"
        ),
        pytest.param(
            [lit(), tapped(), out(AT_S + 930.0)],
            withdrawn("tap-0001", AT_S + 960.0),
            [lit(), out(AT_S + 930.0)],
            id="emergency, since put out",
        ),
        pytest.param(
            [lit(), out(AT_S + 930.0), tapped(AT_S + 940.0), out(AT_S + 950.0, id="out-0002")],
            withdrawn("tap-0001", AT_S + 960.0),
            [lit(), out(AT_S + 930.0)],
            id="emergency after out, seen out again",
        ),
        pytest.param(
            [lit(), out(AT_S + HOUR_S)],
            withdrawn("out-0001", AT_S + HOUR_S + 60.0),
            [lit()],
            id="it is not out",
        ),
        pytest.param(
            [lit(), out(AT_S + HOUR_S)],
            corrected("out-0001", AT_S + HOUR_S + 60.0, happened_s=AT_S + HOUR_S - 600.0),
            [lit(), out(AT_S + HOUR_S - 600.0)],
            id="out earlier",
        ),
        pytest.param(
            [
                lit(mass_g=532.0, wax_g=220.0),
                out(AT_S + HOUR_S),
                WeighIn(**stamps("weigh-001", AT_S + 5 * HOUR_S), station="jar-a", mass_g=511.0),
            ],
            corrected("weigh-001", AT_S + 5 * HOUR_S + 60.0, mass_g=521.0),
            [
                lit(mass_g=532.0, wax_g=220.0),
                out(AT_S + HOUR_S),
                WeighIn(**stamps("weigh-001", AT_S + 5 * HOUR_S), station="jar-a", mass_g=521.0),
            ],
            id="weigh-in",
        ),
        pytest.param([lit()], withdrawn("lit-0001", AT_S + 60.0), [], id="never lit"),
    ],
)
def test_it_is_as_if_it_had_been_right(wrong, change, right):
    before, changed, expected = Folded(*wrong), Folded(*wrong, change), Folded(*right)
    if expected.burn is None:
        assert changed.burn is None
        assert changed.hub.burns == {}
    else:
        assert changed.burn == replace(expected.burn, id=before.burn.id)  # its id stays
        assert changed.hub.burns["jar-a"] == changed.burn
    assert changed.hub.estimates == expected.hub.estimates
    now = changed.hub.statuses["jar-a"]
    expected.put(Tick(at_s=now.at_s))
    burn = None if changed.burn is None else changed.burn.id
    assert now == replace(expected.hub.statuses["jar-a"], burn=burn)


def test_who_and_why_is_told_beside_what_it_was():
    folded = Folded(lit(trial="ambr-6"), corrected("lit-0001", AT_S + 60.0, trial="amber-6"))
    (event,) = folded.events()
    assert (event.event, event.by) == ("corrected", "Ines")
    assert event.text == (
        "jar-a: the lighting corrected: trial amber-6, not ambr-6, says Ines: a slip of the keys"
    )
    (line,) = folded.pipeline.entered_at("jar-a")
    assert (line.first.trial, line.now.trial, len(line.changes)) == ("ambr-6", "amber-6", 1)


def test_the_limit_alarm_of_a_reading_in_the_wrong_unit_ends_at_once_with_the_reason():
    key = f"wall-limit/{read(98.0).channel.name}"
    folded = Folded(lit(), read(98.0, 98.4))
    assert folded.state(key) == "unacknowledged"
    folded.put(corrected("read-0001", AT_S + 700.0, typed_in=DEGF))
    assert folded.state(key) == "normal"
    (ended,) = [one for one in folded.events(AlarmEvent) if one.alarm.key == key]
    assert "a slip of the keys" in ended.alarm.finding.text
    folded.put(*(Tick(at_s=AT_S + 700.0 + n) for n in range(1, 200)))
    assert folded.state(key) == "normal"


def test_a_reading_that_is_still_over_the_limit_keeps_its_alarm():
    key = f"wall-limit/{read(98.0).channel.name}"
    folded = Folded(
        lit(), read(98.0, 98.4), corrected("read-0001", AT_S + 700.0, figures=(72.0, 72.2))
    )
    assert folded.state(key) == "unacknowledged"
    assert not [one for one in folded.events(AlarmEvent) if one.what == "cleared"]


def test_a_withdrawn_emergency_ends_its_alarm_with_the_reason():
    folded = Folded(lit(), tapped())
    assert folded.state("emergency/jar-a") == "unacknowledged"
    folded.put(withdrawn("tap-0001", AT_S + 960.0, why="brushed the screen"))
    assert folded.state("emergency/jar-a") == "normal"
    assert "brushed the screen" in folded.events(AlarmEvent)[0].alarm.finding.text
    assert folded.burn.danger is None


def test_of_two_emergencies_the_other_one_stays():
    folded = Folded(lit(), tapped(), tapped(AT_S + 910.0, "tap-0002", Danger.FLASH_OVER))
    folded.put(withdrawn("tap-0002", AT_S + 960.0))
    assert folded.burn.danger is Danger.CRACK
    assert folded.state("emergency/jar-a") == "unacknowledged"


def test_a_burn_too_long_by_a_wrong_time_of_lighting_is_none():
    early = lit(AT_S - 5 * HOUR_S, entered_s=AT_S)
    folded = Folded(early, *(Tick(at_s=AT_S + n) for n in range(1, 5)))
    assert folded.state("burn-too-long/jar-a") == "unacknowledged"
    folded.put(corrected("lit-0001", AT_S + 10.0, happened_s=AT_S - 60.0))
    folded.put(*(Tick(at_s=AT_S + n) for n in range(11, 80)))
    assert folded.state("burn-too-long/jar-a") == "returned-unacknowledged"
    assert folded.burn.elapsed_s(AT_S) == 60.0


def sensed(from_s, to_s, celsius):
    for second in range(round(from_s), round(to_s)):
        yield Tick(at_s=float(second))
        yield Reading(channel=SENSED.name, value=celsius, at_s=second + 0.5)


def test_what_instruments_saw_before_a_corrected_lighting_is_none_of_the_burn():
    folded = Folded(lit(AT_S), *sensed(AT_S, AT_S + 120, 58.0), channels=(SENSED,))
    folded.put(*sensed(AT_S + 120, AT_S + 400, 31.0))
    assert folded.burn.hottest.value_c > 57.0
    folded.put(corrected("lit-0001", AT_S + 400.0, happened_s=AT_S + 300.0))
    assert folded.burn.hottest.value_c == pytest.approx(31.0, abs=0.5)


def test_what_instruments_saw_since_a_lighting_that_was_earlier_counts():
    folded = Folded(Tick(at_s=AT_S - 1.0), *sensed(AT_S, AT_S + 120, 58.0), channels=(SENSED,))
    folded.put(*sensed(AT_S + 120, AT_S + 400, 31.0), lit(AT_S + 400.0))
    folded.put(*sensed(AT_S + 400, AT_S + 410, 31.0))
    assert folded.burn.hottest.value_c < 32.0
    folded.put(corrected("lit-0001", AT_S + 410.0, happened_s=AT_S))
    assert folded.burn.hottest.value_c > 57.0


def test_what_is_stored_since_a_lighting_that_was_hours_earlier_counts():
    saw = Folded(Tick(at_s=AT_S - 1.0), *sensed(AT_S, AT_S + 120, 58.0), channels=(SENSED,))
    stored = [one for one in saw.outputs if isinstance(one, Estimate)]
    folded = Folded(Tick(at_s=AT_S - 1.0), channels=(SENSED,))
    lit_s, now_s = AT_S + 2.6 * HOUR_S, AT_S + 3.0 * HOUR_S
    folded.put(lit(lit_s), *sensed(lit_s, lit_s + 60, 31.0))
    change = corrected("lit-0001", now_s, happened_s=AT_S)
    assert folded.pipeline.lit_otherwise(change) == (AT_S, None)
    assert folded.pipeline.lit_otherwise(corrected("lit-0001", now_s, tester="M7")) is None
    folded.pipeline.remember(change, stored)
    folded.put(change)
    assert folded.burn.hottest.value_c > 57.0
    assert folded.burn.hottest.at_s < AT_S + 121.0


def test_what_was_filled_in_by_mistake_can_be_emptied():
    wrong = {"tester": "M6", "watched_by": "Ines", "mass_g": 500.0, "wax_g": 220.0}
    changed = Folded(
        lit(**wrong), corrected("lit-0001", AT_S + 60.0, emptied=("tester", "wax_g", "mass_g"))
    )
    right = Folded(lit(watched_by="Ines"))
    as_if(changed, right)
    (event,) = changed.events()
    assert "code on the vessel none, not M6" in event.text
    assert "wax nothing, not 220.0 g" in event.text
    rim = replace(WALL, position=Position.RIM)
    folded = Folded(lit(), replace(read(48.0), place=rim))
    folded.put(corrected("read-0001", AT_S + 900.0, emptied=("height_mm", "clock")))
    assert folded.pipeline.entered_at("jar-a")[-1].now.place == Place(position=Position.RIM)


@pytest.mark.parametrize(
    ("entry", "field", "message"),
    [
        (read(48.0), "height_mm", "a wall place needs its height"),
        (Note(**stamps("note-1", AT_S + 60.0), station="jar-a", text="soot"), "text", "must have"),
        (
            Note(**stamps("note-1", AT_S + 60.0), station="jar-a", text="soot"),
            "wax_g",
            "has no wax",
        ),
    ],
)
def test_what_must_be_there_cannot_be_emptied(entry, field, message):
    folded = Folded(lit(), entry)
    with pytest.raises(Refused, match=message):
        folded.put(corrected(entry.id, AT_S + 900.0, emptied=(field,)))
    with pytest.raises(Refused, match="cannot be given and emptied at once"):
        folded.put(corrected("lit-0001", AT_S + 900.0, emptied=("wax_g",), wax_g=1.0))


def test_what_instruments_saw_is_kept_whatever_is_withdrawn():
    folded = Folded(lit(), *sensed(AT_S, AT_S + 60, 52.0), channels=(SENSED,))
    folded.put(read(84.0, 84.2, at_s=AT_S + 60.0), withdrawn("read-0001", AT_S + 61.0))
    assert folded.burn.hottest.value_c == pytest.approx(52.0, abs=0.5)
    assert folded.burn.hottest.channel == SENSED.name


def test_the_trial_of_an_earlier_burn_is_corrected_and_the_present_one_stays():
    folded = Folded(lit(trial="ambr-6"), out(AT_S + HOUR_S))
    folded.put(lit(AT_S + 9 * HOUR_S, id="lit-0002", trial="cedar-2"))
    folded.put(corrected("lit-0001", AT_S + 9 * HOUR_S + 60, trial="amber-6"))
    (earlier,) = [one for one in folded.last if isinstance(one, Burn) and one.trial == "amber-6"]
    assert earlier.out_s == AT_S + HOUR_S
    assert folded.burn.trial == folded.hub.burns["jar-a"].trial == "cedar-2"


def test_an_out_that_was_earlier_gives_the_next_burn_its_rest():
    folded = Folded(lit(), out(AT_S + HOUR_S), lit(AT_S + 2 * HOUR_S, id="lit-0002"))
    assert folded.burn.rested_s == HOUR_S
    folded.put(corrected("out-0001", AT_S + 2 * HOUR_S + 60, happened_s=AT_S + 1800.0))
    assert folded.burn.rested_s == HOUR_S + 1800.0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        pytest.param(withdrawn("read-0002", AT_S + 9000), "no entry read-0002", id="unknown"),
        pytest.param(
            corrected("note-0001", AT_S + 9000, mass_g=5.0), "the note has no mass", id="alien"
        ),
        pytest.param(
            corrected("lit-0001", AT_S + 9000, trial="amber-6"), "says that already", id="same"
        ),
        pytest.param(
            corrected("lit-0001", AT_S + 9000, happened_s=AT_S + 8000.0),
            "was out before that",
            id="lit after it was out",
        ),
        pytest.param(
            corrected("out-0001", AT_S + 9000, station="jar-b"), "only a reading", id="station"
        ),
        pytest.param(
            corrected("read-0001", AT_S + 9000, figures=(4000.0,)),
            "not a reading of a candle",
            id="hot",
        ),
        pytest.param(
            corrected("read-0001", AT_S + 9000, station="jar-z"), "no station jar-z", id="nowhere"
        ),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(change, says):
    note = Note(**stamps("note-0001", AT_S + 700.0), station="jar-a", text="soot")
    folded = Folded(lit(), read(48.0, 48.2), note, out(AT_S + HOUR_S))
    before, lines = folded.burn, folded.pipeline.entered_at("jar-a")
    with pytest.raises(Refused, match=says):
        folded.put(change)
    assert (folded.burn, folded.pipeline.entered_at("jar-a")) == (before, lines)


def test_twice_withdrawn_is_refused():
    folded = Folded(lit(), read(48.0), withdrawn("read-0001", AT_S + 700.0))
    with pytest.raises(Refused, match="withdrawn already"):
        folded.put(withdrawn("read-0001", AT_S + 701.0))


def test_an_out_is_not_withdrawn_once_it_was_lit_again():
    folded = Folded(lit(), out(AT_S + HOUR_S), lit(AT_S + 9 * HOUR_S, id="lit-0002"))
    with pytest.raises(Refused, match="lit again"):
        folded.put(withdrawn("out-0001", AT_S + 9 * HOUR_S + 60))


def test_the_start_of_an_id_is_enough_where_it_is_unique():
    folded = Folded(lit(), read(48.0), read(49.0, id="read-0002", at_s=AT_S + 660))
    assert folded.pipeline.resolved(withdrawn("lit-", AT_S)).entry == "lit-0001"
    with pytest.raises(Refused, match="several entries begin with read: read-0001, read-0002"):
        folded.pipeline.resolved(withdrawn("read", AT_S))
    assert folded.pipeline.short_id("read-0002") == "read-0002"
    assert folded.pipeline.short_id("lit-0001") == "lit-00"


def test_after_a_restart_entries_are_as_they_count_and_can_be_changed_again():
    live = Folded(lit(trial="ambr-6"), read(98.0, 98.4), tapped())
    live.put(corrected("read-0001", AT_S + 1000.0, typed_in=DEGF))
    live.put(withdrawn("tap-0001", AT_S + 1001.0))
    entries = tuple(
        (one, None if isinstance(one, ManualReading) else live.burn.id) for one in live.items
    )
    memory = Memory(
        burns=live.pipeline.burns,
        alarms=live.pipeline.alarms,
        entries=entries,
        burn_events={live.burn.id: 9},
    )
    again = Folded(memory=memory)
    assert again.pipeline.entered_at("jar-a") == live.pipeline.entered_at("jar-a")
    for one in (live, again):
        one.put(corrected("lit-0001", AT_S + 1100.0, trial="amber-6"))
        one.put(withdrawn("read-0001", AT_S + 1101.0))
    as_if(again, live)
    assert again.burn.hottest is None
    assert again.burn.danger is None


@pytest.mark.parametrize(
    ("name", "alike"),
    [
        pytest.param("Amber Jar W6", "amber-jar-w6", id="capitals and spaces"),
        pytest.param("amberjarw6", "amber-jar-w6", id="no signs"),
        pytest.param("amebr-jar-w6", "amber-jar-w6", id="letters exchanged"),
        pytest.param("ambr-jar-w6", "amber-jar-w6", id="letter left out"),
        pytest.param("anber-jar-w6", "amber-jar-w6", id="letter mistyped"),
        pytest.param("amber-jar-w6", None, id="the same"),
        pytest.param("amber-jar-w7", None, id="another number"),
        pytest.param("amber-jar-x6", None, id="another code"),
        pytest.param("amber-jug-w6", None, id="short words are codes"),
        pytest.param("cedar-jar-w6", None, id="another word"),
    ],
)
def test_a_name_that_nearly_exists(name, alike):
    assert nearly(name, {"amber-jar-w6", "pine-2"}) == alike


def test_a_trial_nearly_named_so_is_asked_about_once_and_a_new_one_said_to_be_new():
    folded = Folded(lit(trial="amber-jar-w6"))
    assert "the first burn of amber-jar-w6" in folded.events()[0].text
    folded.put(out(AT_S + 60.0))
    again = lit(AT_S + 120.0, id="lit-0002", trial="Amber Jar W6")
    with pytest.raises(Refused, match=r"there is a trial amber-jar-w6.*new_trial=true"):
        folded.put(again)
    folded.put(replace(again, new_trial=True))
    assert "the first burn of Amber Jar W6" in folded.events()[0].text


def test_a_doubtful_reading_that_is_withdrawn_leaves_no_estimate():
    folded = Folded(lit(), read(40.0, 90.0, 20.0), withdrawn("read-0001", AT_S + 700.0))
    gone = [one for one in folded.last if getattr(one, "quality", None) is Quality.LOST]
    assert [one.channel for one in gone] == [read(1.0).channel.name]
    assert folded.hub.estimates == folded.hub.by_hand == {}
