"""What editors say of a configuration, against what the program says of it."""

import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import jsonschema_rs
import pytest

from logger.errors import SettingsError
from logger.settings import parse
from logger.settings.drivers import DRIVERS
from logger.settings.editor_schema import editor_schema
from logger.settings.keys import Keys
from tests.support.command_line import typed
from tests.support.whole_settings import everything
from tests.unit.test_manual import README, every_table
from tests.unit.test_settings_faults import FAULTS

SCHEMA = editor_schema()
EDITOR = jsonschema_rs.validator_for(SCHEMA)
WRONG = {
    "a slip in a key": ("material =", "materal ="),
    "a slip in a table": ("[web]", "[wep]"),
    "a slip in a limit": ("wall_alert =", "wall_alarm ="),
    "no name of the bench": ('name = "back-room"', ""),
    "no name of a station": ('name = "tin-b"', ""),
    "no name at all": ('name = "jar-a-wall-9"', ""),
    "no unit of a channel": ('field = 3\nunit = "degC"', "field = 3"),
    "no channel": ("# Modules on", '[[instrument]]\nname = "b"\ndriver = "scpi"\nport = "p"\n#'),
    "no driver": ('driver = "scpi"', ""),
    "another driver": ('driver = "scpi"', 'driver = "scpy"'),
    "another format": ('format = "csv"', 'format = "xml"'),
    "a capital letter": ('"jar-a-wall-9"', '"Jar-A"'),
    "a blank in a name": ('name = "tin-b"', 'name = "tin b"'),
    "no word of these": ('"metal"', '"wood"'),
    "no place": ('place = "base"', 'place = "bottom"'),
    "a number without its unit": ('height = "60 mm"', "height = 60"),
    "text without a unit": ('burn_length = "4 h"', 'burn_length = "4"'),
    "text for a number": ("baud = 9600", 'baud = "9600"'),
    "too small": ("baud = 9600", "baud = 9"),
    "no whole number": ("clock = 9", "clock = 9.5"),
    "beyond the clock": ("clock = 9", "clock = 13"),
    "text for true": ("commands = false", 'commands = "no"'),
    "text for a list": ('poll = ["READ?"]', 'poll = "READ?"'),
    "one limit of the room": ('room = ["20 degC", "27 degC"]', 'room = ["20 degC"]'),
    "more than a black body": ("emissivity = 0.92", "emissivity = 1.2"),
    "an address without port": ('"127.0.0.1:8470"', '"127.0.0.1"'),
    "a password": ("commands = false", 'password = "hunter2"'),
    "of another format": ('format = "pairs"', 'format = "pairs"\ncolumns = 2'),
    "of another driver": ('driver = "one-wire"', 'driver = "one-wire"\nbaud = 9600'),
}


def as_json(text):
    """Dates become text, as editors have them."""
    return json.loads(json.dumps(tomllib.loads(text), default=str))


def test_the_schema_is_one_and_is_printed():
    assert SCHEMA["$schema"] == "http://json-schema.org/draft-07/schema#"
    jsonschema_rs.meta.validate(SCHEMA)
    assert json.loads(typed("docs", "--schema").stdout) == SCHEMA


def test_what_the_program_takes_it_takes():
    example = files("config").joinpath("bench.toml").read_text(encoding="utf-8")
    (first_burn,) = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    for text in (example, everything(), first_burn):
        EDITOR.validate(as_json(text))


def test_it_has_every_key_with_its_meaning():
    said = {}

    def read(schema):
        for name, below in schema.get("properties", {}).items():
            said.setdefault(name, set()).add(below.get("description"))
            read(below)
            read(below.get("items", {}))
        for case in schema.get("allOf", ()):
            read(case["then"])

    read(SCHEMA)
    for table in every_table(Keys):
        if not table.__name__.startswith("Driverless"):
            for name, field in table.model_fields.items():
                assert field.description in said[field.alias or name], name


@pytest.mark.parametrize(("right", "wrong"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_in_one_key_both_say(right, wrong):
    text = everything().replace(right, wrong, 1)
    with pytest.raises(SettingsError):
        parse(text, Path("bench.toml"))
    assert not EDITOR.is_valid(as_json(text))


def test_of_all_that_can_be_wrong_it_says_two_fifths():
    """The rest lies between keys or tables, or in a figure or unit (counted: 49 of 104)."""
    assert sum(not EDITOR.is_valid(as_json(text)) for text, _ in FAULTS) > 0.4 * len(FAULTS)


@pytest.mark.parametrize("driver", DRIVERS)
def test_a_key_of_another_driver_is_wrong(driver):
    raw = as_json(everything())
    one = next(one for one in raw["instrument"] if one["driver"] == driver)
    one["knob"] = 1
    faults = {error.message for error in EDITOR.iter_errors(raw)}
    assert len(faults) == 1
    assert "knob" in faults.pop()
