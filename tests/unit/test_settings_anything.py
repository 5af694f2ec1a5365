"""Whatever stands in a configuration, it is read or each fault has its line."""

import re
import tomllib

import hypothesis
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import SettingsError
from logger.settings import (
    load,
)
from tests.support.whole_settings import everything, toml

anything = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(2**63), 2**63 - 1),
        st.floats(),
        st.text(st.characters(exclude_categories=("Cs",)), max_size=12),
        st.sampled_from(["1 h", "60 degC", "-1 delta_degC", "jar-a", "degC", "csv", "~", "~x/y"]),
        st.dates(),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.text("ab-\n\x1b", max_size=3), inner, max_size=3),
    ),
    max_leaves=5,
)


@given(st.data())
@hypothesis.settings(deadline=None)  # the first unit that is not in the tables waits for pint
def test_whatever_stands_in_a_place_there_are_settings_or_problems(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "bench.toml"
    whole = tomllib.loads(everything())
    for _ in range(data.draw(st.integers(1, 3))):
        place = whole
        while True:
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            key = data.draw(st.sampled_from(keys))
            below = place[key]
            if not (isinstance(below, dict | list) and below) or data.draw(st.booleans()):
                break
            place = below
        place[key] = data.draw(anything)
    text = "".join(f"{toml(key)} = {toml(value)}\n" for key, value in whole.items())
    path.write_text(text, encoding="utf-8")
    try:
        load(path)
    except SettingsError as exc:
        problems = exc.problems
    else:
        return
    assert problems
    for problem in problems:
        assert re.match(r"bench\.toml:\d+: ", problem), problem
        assert problem.isprintable()
        assert "has no place here" not in problem  # each fault has words of its own
