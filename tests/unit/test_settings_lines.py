"""The line scanner against tomllib: each number in a generated text is the line it stands on."""

import random
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.settings.toml_lines import key_lines

names = st.sampled_from(["a", "b-1", "c_2", "37", "with blank", "dot.ted", 'quo"te', "ü", ""])
numbers = st.just(0)  # stands for the number of its line
strings = st.sampled_from(
    ["", "x = 1", "[a]", "# no remark", 'say "a"', "it's", "back\\slash", "}", "]", "a,b"]
)
long_strings = st.sampled_from(["\nx = 1\n[a]\n", 'q""q\n', "''\n'", "# \n]", "\\\\\n", '"'])
values = st.recursive(
    st.one_of(
        numbers,
        st.tuples(st.just("string"), strings),
        st.tuples(st.just("long"), long_strings),
        st.tuples(
            st.just("plain"),
            st.sampled_from(
                ["true", "-1.5e3", "nan", "0xFF", "2031-05-04", "2031-05-04 09:00:05Z"]
            ),
        ),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(names, inner, max_size=3)),
    max_leaves=6,
)
bodies = st.recursive(
    st.tuples(st.dictionaries(names, values, max_size=4), st.just({})),
    lambda inner: st.tuples(
        st.dictionaries(names, values, max_size=4),
        st.dictionaries(names, st.one_of(inner, st.lists(inner, min_size=1, max_size=3))),
    ),
    max_leaves=6,
)


class Writer:
    """Writes a table in one of the many ways that TOML allows."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)
        self.text = ""

    def blank(self) -> None:
        self.text += self.dice.choice(["", "", "\n", "  \n\t", "# [a] x = 'y\n", ' # "\n\n'])

    def key(self, path: tuple[str, ...]) -> str:
        return self.dice.choice([".", " . "]).join(self.name(name) for name in path)

    def name(self, name: str) -> str:
        ways = [self.quoted(name)]
        if name and all(sign.isascii() and (sign.isalnum() or sign in "-_") for sign in name):
            ways.append(name)
        if "'" not in name:
            ways.append(f"'{name}'")
        return self.dice.choice(ways)

    def quoted(self, text: str) -> str:
        return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'

    def value(self, value) -> None:
        match value:
            case 0:
                self.text += str(self.text.count("\n") + 1)
            case ("string", text):
                literal = "'" not in text and self.dice.random() < 0.5
                self.text += f"'{text}'" if literal else self.quoted(text)
            case ("long", text):
                if "'''" not in text and self.dice.random() < 0.5:
                    self.text += f"'''{text}'''"
                else:
                    escaped = text.replace("\\", "\\\\")
                    self.text += f'"""{escaped}"""'
            case ("plain", text):
                self.text += text
            case list():
                self.text += "["
                for index, each in enumerate(value):
                    self.blank()
                    self.value(each)
                    self.blank()
                    if index < len(value) - 1 or self.dice.random() < 0.3:
                        self.text += ","
                        self.blank()
                self.text += "]"
            case dict():
                self.text += "{ "
                for index, (name, each) in enumerate(value.items()):
                    self.text += (", " if index else "") + self.name(name) + " = "
                    self.value(each)
                self.text += " }"

    def body(self, path: tuple[str, ...], body) -> None:
        own, tables = body
        for name, value in own.items():
            self.blank()
            dotted = isinstance(value, dict) and value and self.dice.random() < 0.4
            for below, each in value.items() if dotted else [(None, value)]:
                self.text += self.key((name,) if below is None else (name, below)) + " ="
                self.text += self.dice.choice(["", " "])
                self.value(each)
                self.text += self.dice.choice(["\n", " # x = 'y\n", "\r\n"])
        for name, below in tables.items():
            if name in own:
                continue
            for element in below if isinstance(below, list) else [below]:
                self.blank()
                opening, closing = ("[[", "]]") if isinstance(below, list) else ("[", "]")
                self.text += f"{opening}{self.key((*path, name))}{closing}\n"
                self.body((*path, name), element)


def places(value, path=()):
    """Each place of what tomllib read, and the number there, if it is one of a line."""
    if isinstance(value, dict | list):
        if path:
            yield path, None
        for key, each in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(each, (*path, key))
    else:
        is_line = isinstance(value, int) and not isinstance(value, bool) and value != 0xFF
        yield path, value if is_line else None


@given(bodies, st.integers(min_value=0, max_value=10_000))
def test_every_place_is_found_on_its_line(body, seed):
    writer = Writer(seed)
    writer.body((), body)
    lines = key_lines(writer.text)
    found = dict(places(tomllib.loads(writer.text)))
    assert lines.keys() == found.keys()
    assert {path: lines[path] for path, line in found.items() if line is not None} == {
        path: line for path, line in found.items() if line is not None
    }


def test_a_key_stands_where_it_begins_and_a_table_where_it_is_named_first():
    text = """\
# remark
top = '''
[no.table]
'''
[bench]
show = { temperature = "degF",
length = "in" }
[[instrument]]
  name = "a"
  [[instrument.channel]]
  room = [
    "20 degC",

    "27 degC",
  ]
[[instrument]]
[[instrument.channel]]
[[instrument.channel]]
place.height = 2
"limits".'glass'.wall = 1
""".replace('"degF",\n', '"degF", ')
    assert key_lines(text) == {
        ("top",): 2,
        ("bench",): 5,
        ("bench", "show"): 6,
        ("bench", "show", "temperature"): 6,
        ("bench", "show", "length"): 6,
        ("instrument",): 7,
        ("instrument", 0): 7,
        ("instrument", 0, "name"): 8,
        ("instrument", 0, "channel"): 9,
        ("instrument", 0, "channel", 0): 9,
        ("instrument", 0, "channel", 0, "room"): 10,
        ("instrument", 0, "channel", 0, "room", 0): 11,
        ("instrument", 0, "channel", 0, "room", 1): 13,
        ("instrument", 1): 15,
        ("instrument", 1, "channel"): 16,
        ("instrument", 1, "channel", 0): 16,
        ("instrument", 1, "channel", 1): 17,
        ("instrument", 1, "channel", 1, "place"): 18,
        ("instrument", 1, "channel", 1, "place", "height"): 18,
        ("instrument", 1, "channel", 1, "limits"): 19,
        ("instrument", 1, "channel", 1, "limits", "glass"): 19,
        ("instrument", 1, "channel", 1, "limits", "glass", "wall"): 19,
    }


@pytest.mark.parametrize("text", ["", "\n\n", "# only a remark", "a = 1"])
def test_short_texts(text):
    assert set(key_lines(text)) == {(key,) for key in tomllib.loads(text)}
