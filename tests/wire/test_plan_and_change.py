"""`plan`, `change` and `bench-check` as commands, pages and calendar, over a real database."""

import json
from datetime import UTC, datetime, timedelta

import icalendar
import pytest

from logger.planning.bench_plan import BenchPlan, PlannedBurn
from logger.reports.plan_calendar import plan_calendar
from tests.support.process_bench import BenchProcess
from tests.support.web_bench import ONE_STATION, START_S, serving

HOUR = 3600.0
BENCH = """
[bench]
name = "back-room"
data = "{folder}/data"
[plan]
hours = ["00:00", "24:00"]
days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
testers = 1
[plan.retest]
fragrance = "to-the-end"
[[station]]
name = "jar-a"
[[station]]
name = "jar-b"
"""


def planned(trial="cedar; rain, 8", tester="C1", number=3):
    return PlannedBurn(
        trial=trial, tester=tester, station="jar-a", lit_s=START_S, out_s=START_S + 4 * HOUR,
        marks_s=(START_S + HOUR, START_S + 2 * HOUR), pause_s=4 * HOUR, number=number,
        why="candle 1 to its end\nBEGIN:VEVENT",
    )  # fmt: skip


def test_the_calendar_is_read_by_another_library_as_it_was_meant():
    plan = BenchPlan(burns=(planned(), planned("Grüße und ein sehr langer Name " * 5, "Ä", 1)))
    text = plan_calendar(plan, bench="back-room", made_s=START_S - 60.0, moment_s=300.0)
    # RFC 5545, 3.1: lines end with CR LF and hold at most 75 octets
    assert text.endswith("END:VCALENDAR\r\n")
    assert text.replace("\r\n", "").count("\n") == 0
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    calendar = icalendar.Calendar.from_ical(text)
    assert calendar["VERSION"] == "2.0"
    events = calendar.walk("VEVENT")
    assert len(events) == 8
    assert not any(event.errors for event in events)
    assert len({str(event["UID"]) for event in events}) == 8
    first = next(event for event in events if "C1" in event["UID"])
    start = datetime.fromtimestamp(START_S, UTC)
    assert first.decoded("DTSTART") == start
    assert first.decoded("DTEND") - start == timedelta(minutes=5)
    assert str(first["SUMMARY"]) == "Light C1 of cedar; rain, 8 at jar-a"
    assert str(first["DESCRIPTION"]) == "cedar; rain, 8: candle 1 to its end\nBEGIN:VEVENT"
    # RFC 5545, 3.3.11: its own example of escaped text
    assert r"cedar\; rain\, 8" in text
    # A burn that slips keeps its name, so that a calendar moves it.
    late = BenchPlan(burns=(planned(),))
    moved = plan_calendar(late, bench="back-room", made_s=START_S, moment_s=300.0)
    assert {e["UID"] for e in icalendar.Calendar.from_ical(moved).walk("VEVENT")} <= {
        e["UID"] for e in events
    }


@pytest.fixture
def bench(tmp_path):
    with BenchProcess(tmp_path, BENCH) as bench:
        yield bench


def does(bench, *words):
    done = bench.typed(*words)
    assert done.returncode == 0, (words, done.stderr)
    return done.stdout


def told(bench, *words):
    return json.loads(does(bench, *words, "--json"))


def test_commands_plan_the_bench_and_say_what_a_new_lot_asks_for(bench, tmp_path):
    assert "nothing is due within 30 min" in does(bench, "plan")
    assert "every verdict holds for the lots of now" in does(bench, "change")
    assert "no burn of a check candle is known" in does(bench, "bench-check")
    assert told(bench, "own-trials") == {"trials": []}
    does(bench, "formula", "add", "slate 8", "--wax", "Hazelmoor soy 12", "--wax-share", "92 %",
         "--wax-lot", "A7", "--wax-supplier", "Hazelmoor", "--fragrance", "Rain",
         "--fragrance-share", "8 %", "--fragrance-lot", "F1")  # fmt: skip
    does(bench, "vessel", "add", "amber 75", "--lot", "L1", "--filled", "220 g")
    does(bench, "wick", "add", "M6", "--lot", "W1")
    does(bench, "wicking", "add", "one M6", "--wick", "M6", "--number", "1")
    does(bench, "trial", "add", "slate M6", "--formula", "slate 8", "--vessel", "amber 75",
         "--wicking", "one M6")  # fmt: skip
    does(bench, "tester", "add", "S1", "--trial", "slate M6")
    message = told(bench, "plan", "--calendar", str(tmp_path / "plan.ics"),
                   "--sheet", str(tmp_path / "plan.html"))  # fmt: skip
    # 0.85 of 220 g at the usual 6 g/h: 31.2 h, eight burns of 4 h with 4 h of cooling between
    assert [one["tester"] for one in message["burns"]] == ["S1"] * 8
    assert message["trials"][0]["notes"] == ["no candle was weighed over its burns: 6 g/h assumed"]
    events = icalendar.Calendar.from_ical((tmp_path / "plan.ics").read_bytes()).walk("VEVENT")
    assert len(events) == sum(2 + len(one["marks"]) for one in message["burns"])
    sheet = (tmp_path / "plan.html").read_text()
    assert "Light S1 of slate M6 at jar-a" in sheet
    assert len(does(bench, "plan", "--soon").splitlines()) < 3

    words = (
        "--trial",
        "slate M6",
        "--tester",
        "S1",
        "--checked",
        "--watched-by",
        "Ines",
        "--reason",
        "a test",
    )
    does(bench, "burn", "lit", "jar-a", *words, "--at", "5 h ago")
    does(bench, "burn", "out", "jar-a", "--at", "1 h ago")
    does(bench, "formula", "change", "slate 8", "--fragrance-lot", "F2")
    (one,) = told(bench, "change")["trials"]
    assert (one["trial"], one["holds"], one["not_known"]) == ("slate M6", False, [])
    (change,) = one["changes"]
    assert (change["part"], change["judged"]["lot"], change["now"]["lot"]) == (
        "fragrance", "F1", "F2")  # fmt: skip
    assert change["retest"] == "to-the-end"  # the maker asks for more than two burns
    lines = does(bench, "change", "--lot", "a7")
    assert "rests on lot a7: slate M6 (undecided)" in lines
    assert "common practice" in lines
    assert "rests on lot Z9: no verdict" in does(bench, "change", "--lot", "Z9")
    message = told(bench, "plan")
    assert "new lot of fragrance" in message["trials"][0]["needs"]
    assert [one["what"] for one in message["supplies"]] == ["wax", "fragrance", "wick", "vessel"]
    assert message["supplies"][0]["grams"] == pytest.approx(202.4)
    does(bench, "formula", "change", "slate 8", "--fragrance-lot", "F1")
    assert told(bench, "change")["trials"][0]["holds"]


async def test_pages_show_plan_lots_and_check_candle(tmp_path):
    async with serving(tmp_path, ONE_STATION) as bench:
        passed = dict.fromkeys(
            ("leak_24_h", "tip_10_degrees", "scratches_and_stones", "statement_on_file",
             "nothing_flammable"), "passed")  # fmt: skip
        assert (await bench.post("/api/vessels", name="amber", lot="L1", **passed)).is_success
        await bench.post("/api/trials", name="kept <recipe>", vessel="amber", check_candle="yes")
        await bench.post("/api/trials", name="slate & co", vessel="amber")
        await bench.seconds(3, 22.0, 22.0)
        await bench.light(trial="slate & co", tester="S<1>")
        await bench.seconds(5, 30.0, 22.0)
        plan = (await bench.client.get("/plan")).text
        assert "look at jar-a (S&lt;1&gt;), 30 min" in plan
        assert "slate &amp; co" in plan
        message = (await bench.client.get("/api/plan")).json()
        assert message["burns"][0]["running"]
        assert [one["doing"] for one in message["next"]] == ["look"]
        sheet = await bench.client.get("/plan/sheet")
        assert "S&lt;1&gt;" in sheet.text
        assert "default-src 'none'" in sheet.headers["content-security-policy"]
        calendar = await bench.client.get("/plan.ics")
        assert calendar.headers["content-type"].startswith("text/calendar")
        assert icalendar.Calendar.from_ical(calendar.content).walk("VEVENT")
        change = (await bench.client.get("/change")).text
        assert "slate &amp; co, undecided; vessel: amber, lot L1" in change
        check = (await bench.client.get("/bench-check")).text
        assert "no burn of a check candle is known" in check.lower()
        assert (await bench.client.get("/api/bench-check")).json()["charts"] == []
        assert "no trial yet has a vessel" in (await bench.client.get("/own-trials")).text
        assert (await bench.client.get("/api/own-trials")).json() == {"trials": []}
        for path in ("/plan", "/change", "/bench-check", "/own-trials"):
            page = (await bench.client.get(path)).text
            assert '<a class="emergency" href="#emergency">' in page, path
