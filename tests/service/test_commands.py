"""Commands that need no service, as a person or a script calls them."""

import json
import subprocess
import sys

import pytest

from logger import cli
from tests.support.command_line import program, typed
from tests.support.process_bench import TWO_PROBES

WICKBENCH = [sys.executable, "-m", "logger"]


@pytest.fixture
def config(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(TWO_PROBES.format(folder=tmp_path))
    return path


def test_average_sets_the_flame_aside_and_shows_it():
    done = typed("average", "135.2", "134.8", "135.4", "171.9", "--unit", "degF", "--json")
    answer = json.loads(done.stdout)
    assert done.returncode == 0
    assert answer["unit"] == "degF"
    assert answer["set_aside"] == [171.9]
    assert answer["used"] == [135.2, 134.8, 135.4]
    assert answer["value"] == pytest.approx(135.13, abs=0.01)
    assert 0.1 < answer["standard_uncertainty"] < 3.0


def test_average_corrects_an_infrared_thermometer_fixed_at_0_95():
    words = ("56.5", "56,4", "56.6", "--emissivity", "0,92", "--emissivity-set", "0.95")
    done = typed("average", *words, "--reflected", "22 degC", "--json")
    assert 57.0 < json.loads(done.stdout)["value"] < 58.0


def test_average_takes_values_below_zero():
    done = typed("average", "-5.1", "-5.0", "-4.9", "--json")
    assert json.loads(done.stdout)["value"] == pytest.approx(-5.0)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        pytest.param(("1,234",), '"1,234" can be read in two ways', id="one or a thousand"),
        pytest.param(("nan",), '"nan" is not a number', id="nan"),
        pytest.param(("41", "--unit", "degX"), '"degX" is not a unit', id="unknown unit"),
        pytest.param(("41", "--emissivity", "1.5"), "--emissivity", id="emissivity over 1"),
    ],
)
def test_average_says_in_one_line_what_to_mend(words, says):
    done = typed("average", *words)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert says in done.stderr


def test_emissivity_is_found_from_a_patch_and_average_agrees_with_it():
    done = typed("emissivity", "48.5", "--patch", "60.2", "--reflected", "22 degC", "--json")
    found = json.loads(done.stdout)["emissivity"]
    for shown, emissivity in (("48.5", str(found)), ("60.2", "0.95")):  # of one vessel
        words = ("--emissivity", emissivity, "--reflected", "22 degC", "--json")
        done = typed("average", shown, *words)
        assert json.loads(done.stdout)["value"] == pytest.approx(61.96, abs=0.05)


def test_emissivity_is_told_as_the_configuration_takes_it():
    words = ("125", "--patch", "125", "--reflected", "70 degF", "--unit", "degF")
    done = typed("emissivity", *words)
    assert done.stdout.splitlines()[1:] == ["emissivity = 0.950", "emissivity_measured = true"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        pytest.param(("25", "--patch", "26"), "too close together", id="too cool"),
        pytest.param(("60", "--patch", "30.x"), '"30.x" is not a number', id="no number"),
        pytest.param(("70", "--patch", "60"), "measure both again", id="over 1"),
        pytest.param(("22.1", "--patch", "60"), "less than any surface", id="next to 0"),
        pytest.param(
            ("50", "--patch", "60", "--patch-emissivity", "1.2"), "write 0.01 to 1", id="patch"
        ),
    ],
)
def test_emissivity_says_in_one_line_what_to_mend(words, says):
    done = typed("emissivity", *words, "--reflected", "22 degC")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert says in done.stderr


ROWS = "time,channel,value\n2031-05-04T09:00:00Z,jar-a-wall-3,41.0\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param("when,channel,value\n", "time,channel,value", id="header"),
        pytest.param(ROWS + "2031-05-04,jar-a-wall-3,41\n", ":3: column time", id="time"),
        pytest.param(ROWS + "2031-05-04T09:00:01Z,room,4l.2\n", ":3: column value", id="value"),
        pytest.param(ROWS + "2031-05-04T09:00:01Z,room,41,2\n", ":3: 4 columns", id="columns"),
        pytest.param(
            ROWS + "1935651601,rim,41\n1935651602,lid,41\n",
            "rim (line 3), lid (line 4)",
            id="unknown",
        ),
        pytest.param("time,channel,value\n", "no reading", id="empty"),
    ],
)
def test_replay_names_a_wrong_row_by_line_and_column(config, tmp_path, text, says):
    file = tmp_path / "readings.csv"
    file.write_text(text)
    done = typed("replay", str(file), "--config", str(config))
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert says in done.stderr
    assert done.stdout == ""


def test_replay_of_times_between_the_seconds_judges_every_second_too(config, tmp_path):
    rows = [
        f"{1935651600.3 + n:.1f},{channel},{value}"
        for n in range(60)
        for channel, value in (("jar-a-wall-3", 41.0 + 0.01 * n), ("room", 22.0))
    ]
    file = tmp_path / "readings.csv"
    file.write_text("time,channel,value\n" + "\n".join(rows) + "\n")
    done = typed("replay", str(file), "--config", str(config))
    told = [json.loads(line) for line in done.stdout.splitlines()]
    published = [one for one in told if one["kind"] == "estimate"]
    assert len(published) == 2 * 59, done.stderr  # each whole second between first and last


def test_replay_orders_rows_by_time_then_configuration_and_gives_the_same_bytes(config, tmp_path):
    rows = [
        f"2031-05-04T09:00:{second:02d}Z,{channel},{value + second / 10}"
        for second in range(20)
        for channel, value in (("room", 22.0), ("jar-a-wall-3", 41.0))
    ]
    outputs = []
    for order in (rows, rows[::-1]):
        file = tmp_path / "readings.csv"
        file.write_text("\n".join(["time,channel,value", *order]) + "\n")
        done = typed("replay", str(file), "--config", str(config))
        assert done.returncode == 0, done.stderr
        outputs.append(done.stdout)
    assert outputs[0] == outputs[1]
    first = json.loads(outputs[0].splitlines()[0])
    assert first["kind"] == "estimate"
    assert list(first) == [
        "kind", "time", "channel", "value", "unit", "standard_uncertainty", "repeatability",
        "used", "rejected", "quality", "accuracy_assumed",
    ]  # fmt: skip


def test_every_command_has_help_and_takes_a_configuration():
    for words in (
        ("demo",), ("run",), ("check",), ("find",), ("average",), ("emissivity",), ("replay",),
        ("calibrate",), ("burn", "lit"), ("burn", "out"), ("burn", "read"), ("burn", "note"),
        ("burn", "emergency"), ("burn", "in-sight"), ("burn", "move"), ("burn", "weigh"),
        ("alarm", "list"), ("alarm", "acknowledge"), ("alarm", "shelve"),
        ("init",), ("backup",), ("verify",), ("export",), ("import",),
    ):  # fmt: skip
        done = typed(*words, "--help")
        assert done.returncode == 0
        assert "--config" in done.stdout, words


def each(command):
    yield command
    for one in getattr(command, "commands", {}).values():
        yield from each(one)


def test_whatever_can_be_typed_is_described_and_every_command_takes_a_configuration():
    for command in each(program()):
        params = {one.name: one for one in command.params}
        assert "config" in params or hasattr(command, "commands"), command.name
        assert [name for name, one in params.items() if not one.help] == [], command.name
        shown = command.get_help(command.context_class(command, info_name=command.name))
        assert not {"<str>", "<int>", "<path>"} & set(shown.split()), command.name


def test_summaries_of_commands_are_not_cut():
    """In a list of commands 50 characters fit beside the longest name."""
    app = program()
    for command in each(app):
        summary = (command.help or "").split("\n\n")[0].split("\n")[0]
        assert command is app or 0 < len(summary) <= 50, (command.name, summary)


def test_the_list_of_commands_names_each_and_says_what_its_help_says():
    """It is shown without importing them."""
    for module, listed in cli.COMMANDS.items():
        made = cli.made(module)
        assert listed == {name: one.help.splitlines()[0] for name, one in made.items()}


def test_an_unknown_command_is_one_line_and_exit_2():
    done = subprocess.run([*WICKBENCH, "brun"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)


def test_a_word_that_is_missing_is_answered_with_the_help_alone():
    for words in ((), ("burn",)):
        done = typed(*words)
        assert done.returncode == 2
        assert done.stderr.startswith("Usage: wickbench")
        assert "see:" not in done.stderr


def test_a_missing_configuration_says_how_to_make_one(tmp_path):
    done = typed("check", "--config", str(tmp_path / "none.toml"))
    assert done.returncode == 2
    assert "none.toml" in done.stderr


def test_alarms_without_a_service_say_that_nothing_watches(config):
    done = typed("alarm", "list", "--config", str(config))
    assert done.returncode == 3
    assert "nothing is being watched" in done.stderr


def test_lighting_needs_who_watches_and_is_taken_without_the_checks(config):
    lit = ("burn", "lit", "jar-a", "--trial", "x", "--config", str(config))
    done = typed(*lit)
    assert done.returncode == 2
    assert "--watched-by NAME" in done.stderr
    done = typed(*lit, "--watched-by", "Ines")
    assert done.returncode == 0, done.stderr  # the candle burns anyway
    assert "Not confirmed: 6 of 6 checks" in done.stdout


def test_check_tries_the_engine_and_says_what_to_fix(config):
    config.write_text(
        config.read_text()
        + '[influx]\nurl = "http://127.0.0.1:1"\norg = "o"\nbucket = "b"\ntoken_env = "NONE"\n'
    )
    done = typed("check", "--config", str(config))
    assert done.returncode == 4
    assert "the environment variable NONE is empty" in " ".join(done.stdout.split())
    config.write_text(config.read_text().replace('token_env = "NONE"', ""))
    done = typed("check", "--config", str(config))
    assert done.returncode == 4
    assert "nothing listens there; start the engine" in " ".join(done.stdout.split())
