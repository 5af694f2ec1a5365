"""What a replay hands over of a burn that is over: its verdict, and its record."""

import json
import math

import pytest

from logger.errors import UsageError
from logger.service.replay import lines
from logger.settings.config_file import parse

LIT_S = 1_940_000_000.0
CHANNEL = """
[[instrument.channel]]
name = "{name}"
quantity = "temperature"
unit = "degC"
field = {field}
place = "{place}"
"""
SIDE = 'station = "jar-a"\nheight = "60 mm"\nclock = {clock}\nkind = "contact"\n'
BENCH = (
    """
[bench]
name = "trial"
data = "data"
[limits]
burn_length = "10 min"
burn_notice = "1 min"
[[station]]
name = "jar-a"
material = "glass"
[[instrument]]
name = "board"
driver = "serial-lines"
port = "/dev/null"
"""
    + "".join(
        CHANNEL.format(name=f"wall-{clock}", field=clock, place="wall") + SIDE.format(clock=clock)
        for clock in (3, 9)
    )
    + CHANNEL.format(name="room", field=0, place="room")
)


@pytest.fixture
def replay(tmp_path):
    """What a replay of ten minutes says in which both sides warm to `top_c`."""

    def run(top_c, out_s=LIT_S + 600.0, **more):
        rows = ["time,channel,value"]
        for second in range(620):
            wall_c = top_c - (top_c - 22.0) * math.exp(-second / 90.0)
            wall_c += 0.05 * math.sin(float(second))
            rows += [
                f"{LIT_S + second},wall-3,{wall_c:.2f}",
                f"{LIT_S + second},wall-9,{wall_c:.2f}",
            ]
            rows.append(f"{LIT_S + second},room,22.0")
        path = tmp_path / "readings.csv"
        path.write_text("\n".join(rows) + "\n")
        settings = parse(BENCH, tmp_path / "bench.toml")
        return [json.loads(line) for line in lines(settings, path, LIT_S, out_s, **more)]

    return run


@pytest.mark.parametrize(
    ("top_c", "outcome"), [(45.0, "pass"), (58.0, "undecided"), (75.0, "fail")]
)
def test_it_ends_with_the_verdict(replay, top_c, outcome):
    *before, last = replay(top_c)
    assert last["kind"] == "verdict"
    assert (last["station"], last["outcome"]) == ("jar-a", outcome)
    assert "assumed" in last["reasons"][0]  # nobody stated how well these probes read
    assert last["missing"] == []
    assert any("Cannot be seen" in note for note in last["notes"])
    assert all(line["kind"] != "verdict" for line in before)
    walls = [line for line in before if line["kind"] == "estimate" and line["channel"] == "wall-3"]
    assert all(line["accuracy_assumed"] for line in walls)


def test_a_burn_that_goes_on_has_no_verdict_yet(replay):
    assert all(line["kind"] != "verdict" for line in replay(45.0, out_s=None))


def test_the_record_is_written_beside_it(replay, tmp_path):
    replay(45.0, record=tmp_path / "record.html")
    page = (tmp_path / "record.html").read_text()
    assert "°C ± 3.4 assumed" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "with its uncertainty under the maker&#39;s limit of 60.0 °C" in page


def test_no_record_of_a_burn_that_goes_on(replay, tmp_path):
    with pytest.raises(UsageError, match="--record needs --lit and --out"):
        replay(45.0, out_s=None, record=tmp_path / "record.html")
