"""The demonstration, once, as a newcomer runs it; and its readings through `replay` again."""

import json
import os
import re
import subprocess
from pathlib import Path

import pytest

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.quantities import Rule
from logger.store.queries import open_read
from logger.timestamps import parse_rfc3339, rfc3339
from tests.support.command_line import typed
from tests.support.waiting import patient
from tests.support.warm_starts import done, started

ROOT = Path(__file__).parents[2]
REPLAYED_S = 7800  # of the mixed bench, into its burn: well past the plug that is pulled


@pytest.fixture(
    scope="module", params=[("serial", "first-light"), ("mixed", "passing")], ids="-".join
)
def evening(tmp_path_factory, request):
    """Folder and terminal text of one demonstration; by `make test` one of them is the wheel's."""
    bench, scenario = request.param
    folder = tmp_path_factory.mktemp("demonstration")
    if bench == "serial" and os.environ.get("WICKBENCH_WHEEL"):
        made = ("sh", "-x", "tests/wheel.sh", str(folder))
        ended = subprocess.run(
            made,
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode == 0, f"{ended.stdout}{ended.stderr}"
        return folder, (folder / "told.txt").read_text()
    words = ("demo", "--bench", bench, "--scenario", scenario, "--data", str(folder))
    ended = done("-m", "logger", *words, within_s=240.0)
    assert ended.returncode == 0, ended.stderr
    assert ended.stderr == ""
    return folder, ended.stdout


def rows_of(folder: Path, keep) -> Path:
    """The demonstration's readings of which `keep(time, channel)`, in a file of their own."""
    head, *rows = (folder / "readings.csv").read_text().splitlines(keepends=True)
    file = folder / "kept.csv"
    file.write_text(head + "".join(row for row in rows if keep(*row.split(",")[:2])))
    return file


def replays(*words):
    ended = typed("replay", *map(str, words))
    assert ended.returncode == 0, ended.stderr
    return [json.loads(line) for line in ended.stdout.splitlines()]


@pytest.fixture(scope="module")
def replayed(evening):
    """What `replay` prints of the demonstration's readings, as it was told to call it; and until
    when. Of the mixed bench, whose readings are what differs, the first hours (our choice)."""
    folder, text = evening
    words = re.search(r"wickbench replay (.*)", text).group(1).split()
    if "mass" not in (folder / "bench.toml").read_text():
        return replays(*words), None
    until_s = parse_rfc3339(words[words.index("--lit") + 1]) + REPLAYED_S
    file = rows_of(folder, lambda time, _: time <= rfc3339(until_s))
    return replays(file, *words[1 : words.index("--out")]), until_s


def test_it_tells_the_burn_from_lighting_to_verdict(evening):
    _, text = evening
    for part in (
        "The page, live: http://127.0.0.1:",
        "recorded lit",
        "no reading for",
        "Acknowledged by Ines: no reading at",
        "recorded out",
        "Verdict on",
        "stays in sight",
    ):
        assert part in text


@pytest.mark.faults
def test_a_busy_machine_is_not_taken_for_a_failing_disk(evening, tmp_path, long, fault_row):
    """By `make faults` ten more demonstrations, two at once beside two processes that count."""
    folders = [evening[0]]
    busy = [unheard("-c", "while True: pass") for _ in range(2 if long else 0)]
    try:
        for pair in range(5 if long else 0):
            new = [tmp_path / f"{pair}-{one}" for one in range(2)]
            at_once = [unheard("-m", "logger", "demo", "--data", str(folder)) for folder in new]
            assert [one.wait(patient(400)) for one in at_once] == [0, 0]
            folders += new
    finally:
        for one in busy:
            one.kill()
            one.wait()
    raised = 0
    for folder in folders:
        with open_read(folder / "data") as reader:
            alarms = [one.event for one in reader.events() if isinstance(one.event, AlarmEvent)]
        raised += sum(event.alarm.finding.rule is Rule.STORAGE for event in alarms)
    fault_row(
        "demonstrations beside other work: false `storage`",
        tried=len(folders),
        reached=f"{raised}",
        bar="0",
    )
    assert alarms
    assert raised == 0


def unheard(*words):
    with open(os.devnull, "w") as nobody:
        return started(*words, output=nobody.fileno())


def minutes(clock):
    hours, rest = clock.split(":")
    return 60 * int(hours) + int(rest)


def test_the_person_does_what_the_bench_says(evening):
    folder, text = evening
    record = (folder / "record.html").read_text()
    if "your limit is 60.0" in text:
        after = text[text.index("your limit is 60.0") :]
        assert "Acknowledged by Ines: limit reached" in after
        assert "WARNING (repeated" not in after
        warned, seen_out = (
            re.search(r"(\d:\d\d)  WARNING: .*your limit is 60.0", text),
            re.search(r"(\d:\d\d)  jar-a \(.*\): recorded out", text),
        )
        assert minutes(seen_out[1]) - minutes(warned[1]) == 1
        assert "UNDECIDED" in after
        assert "Burned for</dt><dd>3 h 0" in record
    else:
        assert "3 h 45 min lit" in text
        assert ": PASS" in text


def test_it_leaves_a_bench_that_other_commands_take(evening):
    folder, _ = evening
    assert (folder / "record.html").stat().st_size > 20_000
    assert (folder / "record.pdf").read_bytes().startswith(b"%PDF")
    assert (folder / "readings.csv").read_text().startswith("time,channel,value\n")
    checked = typed("check", "--json", "--config", str(folder / "bench.toml"))
    report = json.loads(checked.stdout)
    assert checked.returncode == 4  # its instrument is gone with the demonstration
    assert not report["ok"]
    assert any(item["what"] == "instrument probes-a" and not item["ok"] for item in report["items"])


def test_mass_and_humidity_keep_their_units(evening, replayed):
    folder, _ = evening
    told, _ = replayed
    units = {m["channel"]: m["unit"] for m in told if m["kind"] == "estimate"}
    if "jar-a-mass" not in (folder / "bench.toml").read_text():
        assert set(units.values()) == {"degC"}
        return
    assert (units["jar-a-mass"], units["room-humidity"]) == ("g", "percent")
    masses_g = [e.value for e in stored(folder, None)[0] if e.channel == "jar-a-mass"]
    assert masses_g[0] == pytest.approx(412.0, abs=0.05)
    assert 18.0 < masses_g[0] - masses_g[-1] < 30.0  # four hours at 6.6 g/h, less while fresh
    record = (folder / "record.html").read_text()
    assert 'data-is="instrument" class="last">probes-a' in record
    assert 'class="last">balance-a' not in record  # no place among temperatures


def stored(folder: Path, until_s: float | None):
    with open_read(folder / "data") as reader:
        events = [one.event for one in reader.events()]
        estimates = list(reader.estimates(None, 0.0, until_s and until_s + 0.5))
    return estimates, [one for one in events if until_s is None or one.time_s <= until_s]


def test_replay_gives_the_estimates_that_the_live_run_stored(evening, replayed):
    told, until_s = replayed
    estimates, _ = stored(evening[0], until_s)
    live = [
        (e.channel, round(e.value, 3), round(e.standard_uncertainty, 3), e.used, e.rejected)
        for e in estimates
    ]
    again = [
        (m["channel"], m["value"], m["standard_uncertainty"], m["used"], m["rejected"])
        for m in told
        if m["kind"] == "estimate"
    ]
    assert len(live) > 10_000
    assert again == live


def alarms_come_and_gone(told):
    """Raised and ended; readings do not tell what a person looked at or acknowledged."""
    ends = {"returned": "ended", "cleared": "ended"}
    keys = ("time", "since", "rule", "station", "channel", "priority")
    return [
        [*(m[k] for k in keys), ends.get(m["event"], m["event"])]
        for m in told
        if m["kind"] == "alarm" and m["event"] not in {"acknowledged", "reminded"}
        if m["rule"] != "mark"
    ]


def test_replay_gives_the_alarms_that_the_live_run_stored_in_order(evening, replayed):
    told, until_s = replayed
    _, events = stored(evening[0], until_s)
    live = alarms_come_and_gone(map(messages.event, events))
    assert len(live) > 5  # of a candle that stays cool
    assert alarms_come_and_gone(told) == live


def test_replay_without_a_time_finds_the_lighting_and_the_extinguishing(evening):
    folder, text = evening
    if "your limit is 60.0" not in text:
        return  # the lowest places of a candle that stays cool fall too little to tell
    lit, out = re.search(r"--lit (\S+) --out (\S+)", text).groups()
    some = {"jar-a-wall-25-3", "jar-a-wall-45-9", "jar-a-base", "room"}
    file = rows_of(folder, lambda _, channel: channel in some)
    told = replays(file, "--config", folder / "bench.toml")
    burns = [m for m in told if m["kind"] == "burn" and m["event"] in ("lit", "out")]
    assert [m["event"] for m in burns] == ["lit", "out"]
    assert parse_rfc3339(burns[0]["since"]) == pytest.approx(parse_rfc3339(lit), abs=300)
    assert parse_rfc3339(burns[1]["since"]) == pytest.approx(parse_rfc3339(out), abs=300)


def test_its_burn_exported_is_what_it_left_and_goes_into_another_folder(evening, tmp_path):
    folder, _ = evening
    if "jar-a-mass" not in (folder / "bench.toml").read_text():
        return  # the mixed bench has all that it has, and more

    def wickbench(*words, config=folder / "bench.toml"):
        return typed(*words, "--config", str(config))

    with open_read(folder / "data") as reader:
        (burn,) = reader.burns()
    left = (folder / "readings.csv").read_bytes()  # what `replayed` is made of
    for words in (("--burn", burn.id), ("--trial", burn.trial), ()):
        ended = wickbench("export", *words, "-o", str(tmp_path / "out.csv"), "--force")
        assert ended.returncode == 0, ended.stderr
        assert (tmp_path / "out.csv").read_bytes() == left
    elsewhere = tmp_path / "bench.toml"
    text = (folder / "bench.toml").read_text()
    elsewhere.write_text(text.replace(str(folder / "data"), str(tmp_path / "data")))
    ended = wickbench("import", str(tmp_path / "out.csv"), config=elsewhere)
    assert ended.returncode == 0, ended.stderr
    assert wickbench("export", config=elsewhere).stdout.encode() == left
    assert wickbench("verify", config=elsewhere).returncode == 0
    ended = wickbench("verify", "--json")
    items = {item["what"]: item for item in json.loads(ended.stdout)["items"]}
    assert (ended.returncode, items["records"]["ok"]) == (0, True)
    assert "for 41 s from" in items[f"burn {burn.number}"]["text"]  # the plug that was pulled
