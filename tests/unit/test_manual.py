"""README and manual say what is so: every key, every page, commands that exist, links that lead."""

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from logger.errors import NotKnown
from logger.intake.table_map import TableMap
from logger.reports.manual_texts import manual, manual_page
from logger.settings.config_file import parse
from logger.settings.drivers import DRIVERS
from logger.settings.keys import Keys
from logger.settings.reference import page
from tests.support.command_line import program

ROOT = Path(__file__).parents[2]
MANUAL = ROOT / "dashboards" / "manual"
README = (ROOT / "README.md").read_text(encoding="utf-8")
PROGRAM = program()
TEXTS = {"README.md": README} | {f"{one.name}.md": one.text for one in manual()}
MOST_WORDS = 1200  # of README: what a maker reads before the first burn (our choice)


def every_table(keys=Keys):
    for below in keys.__subclasses__():
        if below.__module__.startswith("logger."):
            yield below
            yield from every_table(below)


def test_the_reference_is_made_of_what_reads_the_file():
    assert manual_page("configuration").text == page(), (
        "run: python -m logger.settings.reference > dashboards/manual/configuration.md"
    )


def test_the_reference_has_every_key_of_every_table():
    text = manual_page("configuration").text
    named = set(re.findall(r"[`\[. ]([a-z0-9_]+)[`\]\n]", text))  # in a row, or in a heading
    missing = [
        f"{table.__name__}.{name}"
        for table in every_table()
        for name, field in table.model_fields.items()
        if field.description and (field.alias or name) not in named
    ]
    assert missing == []
    assert [driver for driver in DRIVERS if f"### {driver}" not in text] == []


def test_every_file_of_the_manual_is_a_page_of_it():
    assert {one.stem for one in MANUAL.glob("*.md")} == {one.name for one in manual()}
    with pytest.raises(NotKnown, match="phone"):
        manual_page("telephone")


@pytest.mark.parametrize("name", TEXTS)
def test_links_lead_to_files_that_are_there(name):
    folder = ROOT if name == "README.md" else MANUAL
    links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", TEXTS[name])
    assert [link for link in links if not (folder / link).is_file()] == []


def test_readme_is_read_before_the_wax_is_warm():
    words = re.sub(r"```.*?```", "", README, flags=re.DOTALL).split()
    assert len(words) <= MOST_WORDS


def test_the_configuration_of_the_first_burn_is_right():
    (text,) = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    assert tomllib.loads(text)
    assert [one.name for one in parse(text, Path("bench.toml")).stations] == ["jar-a"]


@pytest.mark.parametrize("name", TEXTS)
def test_every_piece_of_configuration_is_taken(name):
    bench = '[bench]\nname = "back-room"\n[[station]]\nname = "jar-a"\nmaterial = "glass"\n'
    for text in re.findall(r"```toml\n(.*?)```", TEXTS[name], re.DOTALL):
        if "[columns]" in text:
            assert TableMap.model_validate(tomllib.loads(text))
        else:
            assert parse(text if "[bench]" in text else bench + text, Path("bench.toml"))


def lines_of(text):
    """Commands in blocks, as somebody would type them."""
    blocks = "\n".join(re.findall(r"```\n(.*?)```", text, re.DOTALL)).replace("\\\n", " ")
    blocks += "\n".join(re.findall(r"^    (wickbench .*)$", text, re.MULTILINE))
    return re.findall(r"^(?:\.venv/bin/)?(wickbench .*)$", blocks, re.MULTILINE)


def commands():
    for name, text in TEXTS.items():
        for line in lines_of(text) + re.findall(r"`(wickbench [^`]*)`", text):
            yield pytest.param(line, id=f"{name}: {line[:40]}")


@pytest.mark.parametrize("name", [name for name, text in TEXTS.items() if lines_of(text)])
def test_commands_in_blocks_are_whole(name):
    for line in lines_of(TEXTS[name]):
        words = shlex.split(line, comments=True)
        command = PROGRAM
        while hasattr(command, "commands"):
            command = command.commands[words.pop(1)]
        assert command.make_context(command.name, words[1:]), line


@pytest.mark.parametrize("line", list(commands()))
def test_commands_have_options_that_exist(line):
    words = shlex.split(line, comments=True)[1:]
    command = PROGRAM
    while words and hasattr(command, "commands") and words[0] in command.commands:
        command = command.commands[words.pop(0)]
    unknown = hasattr(command, "commands") and words and not words[0].startswith("--")
    assert not unknown, f"no such command: {words}"
    options = {option for one in command.params for option in one.opts}
    assert {word for word in words if word.startswith("--")} <= options | {"--help"}
