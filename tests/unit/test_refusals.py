"""What is wrong with a body is said in words of ours."""

import json

import pytest

from logger.errors import DataError
from logger.intake.bodies import LitBody, MoveBody, ReadingBody
from logger.intake.kinds import KINDS, parse

READ = {"id": "reading-1", "values": [41.0], "height": "60 mm"}
THE_VALIDATOR_S = ("Input should", "String should", "Field required", "Extra inputs", "Value error")


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        (ReadingBody, READ | {"clock": 13}, "clock: must be 12 or less"),
        (ReadingBody, READ | {"clock": 0}, "clock: must be 1 or more"),
        (ReadingBody, READ | {"clock": 2.5}, "clock: must be a whole number"),
        (ReadingBody, READ | {"clock": "3"}, "clock: must be a whole number"),
        (ReadingBody, READ | {"values": ["41"]}, "values.0: must be a number"),
        (ReadingBody, READ | {"values": []}, "values: needs at least 1"),
        (ReadingBody, READ | {"values": 41}, "values: must be a list"),
        (ReadingBody, READ | {"emissivity": 0}, "emissivity: must be 0.01 or more"),
        (ReadingBody, READ | {"place": "lid"}, "place: must be one of 'wall', 'rim'"),
        (ReadingBody, READ | {"sure": 1}, "sure: must be true or false"),
        (ReadingBody, READ | {"hieght": "1 mm"}, "hieght: is no field here: check the spelling"),
        (ReadingBody, {"id": "reading-1"}, "values: is missing"),
        (ReadingBody, READ | {"id": "1"}, "id: must be 8 to 64 letters, digits or . _ : -"),
        (ReadingBody, READ | {"by": 3}, "by: must be text, in quotes"),
        (ReadingBody, [], "must be an object with fields"),
        (MoveBody, {"id": "reading-1", "station": "Jar A"}, "station: must be small letters, digi"),
        (LitBody, {"id": "reading-1", "station": "a", "trial": ""}, "trial: must not be empty"),
        (
            LitBody,
            {"id": "reading-1", "station": "a", "trial": "x" * 300},
            "write at most 200 characters",
        ),
    ],
)
def test_every_fault_has_our_words(kind, body, words):
    with pytest.raises(DataError) as caught:
        parse(kind, json.dumps(body).encode())
    assert words in str(caught.value)
    assert not any(one in str(caught.value) for one in THE_VALIDATOR_S)


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
@pytest.mark.parametrize("wrong", [None, True, 3, -1.5, "", "x" * 5000, [], {}, [{}], {"a": 1}])
def test_no_field_of_any_body_is_refused_in_the_validator_s_words(kind, wrong):
    body = dict.fromkeys(kind.model_fields, wrong)
    with pytest.raises(DataError) as caught:
        parse(kind, json.dumps(body).encode())
    assert not any(one in str(caught.value) for one in THE_VALIDATOR_S)
