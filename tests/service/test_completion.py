"""The Tab key: what the shells are given to complete."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.command_line import typed

BENCH = '[bench]\nname = "shed"\ndata = "data"\n[web]\nlisten = "127.0.0.1:0"\n' + "".join(
    f'[[station]]\nname = "{name}"\n' for name in ("jar-a", "tin-b")
)
LIT = ("--trial", "amber-jar-w6", "--watched-by", "Ines", "--checked")


@pytest.fixture(autouse=True)
def bench(tmp_path, monkeypatch):
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("WICKBENCH_CONFIG", raising=False)


@pytest.fixture
def completed(monkeypatch):
    """What fish, who asks as zsh does, is given for a line up to the cursor."""

    def offered(line):
        monkeypatch.setenv("_WICKBENCH_COMPLETE", "complete_fish")
        monkeypatch.setenv("_TYPER_COMPLETE_FISH_ACTION", "get-args")
        monkeypatch.setenv("_TYPER_COMPLETE_ARGS", line)
        found = typed()
        monkeypatch.delenv("_WICKBENCH_COMPLETE")
        assert found.stderr == ""
        return [one.partition("\t")[0] for one in found.stdout.splitlines() if one]

    return offered


def test_commands_options_and_pages_of_the_manual(completed):
    assert completed("wickbench ini") == ["init"]
    assert "--watched-by" in completed("wickbench burn lit --")
    assert completed("wickbench docs conf") == ["configuration"]


def test_stations_come_from_the_configuration(completed, tmp_path):
    assert completed("wickbench burn out ") == ["jar-a", "tin-b"]
    assert completed("wickbench burn read t") == ["tin-b"]
    other = tmp_path / "other.toml"
    other.write_text(BENCH.replace("tin-b", "cup-c"), encoding="utf-8")
    assert completed(f"wickbench burn out --config {other} c") == ["cup-c"]


def test_trials_are_those_that_were_burned(completed):
    assert completed("wickbench burn lit --trial ") == []  # not even a database
    assert typed("burn", "lit", "jar-a", *LIT).returncode == 0
    assert completed("wickbench burn lit --trial am") == ["amber-jar-w6"]
    assert completed("wickbench burn list --trial ") == ["amber-jar-w6"]


@pytest.mark.parametrize("fault", ["", "[bench]\n", "[["], ids=["no file", "no name", "no TOML"])
def test_a_line_being_typed_is_not_disturbed_by_a_wrong_configuration(completed, tmp_path, fault):
    file = tmp_path / "bench.toml"
    file.unlink()
    if fault:
        file.write_text(fault, encoding="utf-8")
    assert completed("wickbench burn out ") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_has_a_script(monkeypatch, shell):
    monkeypatch.setenv("_WICKBENCH_COMPLETE", f"source_{shell}")
    assert "_WICKBENCH_COMPLETE" in typed().stdout


def test_bash_itself_completes():
    """As bash does when Tab is pressed: the function that its `complete` was told."""
    script = """
        eval "$(_WICKBENCH_COMPLETE=source_bash wickbench)"
        complete -p wickbench >&2
        COMP_WORDS=(wickbench burn out j) COMP_CWORD=3
        _wickbench_completion wickbench
        printf '%s\\n' "${COMPREPLY[@]}"
    """
    environment = {**os.environ, "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", "--norc", "-c", script],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.splitlines() == ["jar-a"]
    assert "-F _wickbench_completion wickbench" in done.stderr
