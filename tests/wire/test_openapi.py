"""The description of the JSON side against the code, and the code against the description."""

import json
import os
import re
import subprocess
import sys
import urllib.request
from functools import cache
from pathlib import Path

import jsonschema_rs
import pytest
from starlette.responses import Response
from starlette.routing import Route

from logger import messages
from logger.burn.forecast import Forecast
from logger.intake.kinds import KINDS
from logger.web import openapi, tokens
from tests.support.described import ROUTES, as_described
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import patient, until
from tests.support.web_bench import serving

NEAR_A_LIMIT = """
[limits.glass]
wall_alert = "40 degC"
wall_limit = "60 degC"
"""

TEXTS = {
    "at": ["now", "1 s ago", "9:00", "yesterday", "-1 s ago"],
    "height": ["60 mm", "2 in", "1e300 mm", "-1 in", "60"],
    "lasts": ["30 min", "25 h", "0 s", "1e300 d"],
    "unit": ["degC", "degF", "mm"],
    "reflected": ["22 degC", "-500 degC", ""],
    "station": ["jar-a"],
    "offset": ["-0.3 degC", "1e300 kelvin"],
    "ice": ["0.2 degC", "32.4 degF", "1e300 degC"],
    "boiling": ["99.1 degC", "0.2 degC"],
    "pressure": ["1002 hPa", "29.6 inHg", "0 hPa"],
    "altitude": ["430 m", "-1e300 m"],
    "uncertainty": ["0.1 degC", "-1 kelvin", "1e300 kelvin"],
}
"""Quantities and times right and wrong: random text would never get past their grammar."""

ALIKE = ("vessels", "formulas", "wicks", "wickings", "testers")
"""Kinds of records whose routes are the same code as those of pours and trials."""

FIGURES = {"values": {"type": "number", "minimum": -60, "maximum": 1200}}


@cache
def document(**more):
    return openapi.document(ROUTES, **{"secured": True, **more})


def references(node):
    """Every $ref below `node`."""
    if isinstance(node, dict):
        yield from ([node["$ref"]] if "$ref" in node else [])
        node = list(node.values())
    if isinstance(node, list):
        for one in node:
            yield from references(one)


def test_every_route_below_api_is_described_and_nothing_else():
    served = {
        (re.sub(r":\w+}", "}", route.path), method)
        for route in ROUTES
        for method in (route.methods or set()) - {"HEAD"}
        if route.path.startswith("/api/")
    }
    described = {
        (path, method.upper()) for path, item in document()["paths"].items() for method in item
    }
    assert described == served
    assert len(described) >= 14


async def test_it_is_served_as_it_is_made(tmp_path):
    async with serving(tmp_path) as bench:
        answer = await bench.client.get("/api/openapi.json")
        assert answer.headers["content-type"] == "application/json"
        assert answer.json() == json.loads(json.dumps(document(secured=False)))


def test_a_route_that_nobody_described_is_a_fault():
    def unknown(_request):
        """GET /api/unknown: nothing."""
        return Response()

    with pytest.raises(KeyError, match="unknown"):
        openapi.document([*ROUTES, Route("/api/unknown", unknown)], secured=False)


def test_every_operation_says_what_it_is_and_what_goes_wrong():
    found = document()
    names = set()
    for path, item in found["paths"].items():
        for method, operation in item.items():
            names.add(operation["operationId"])
            assert operation["summary"], path
            said = {one["name"] for one in operation["parameters"] if one["in"] == "path"}
            assert said == ({"id"} if "{id}" in path else set())
            assert all(one["description"] for one in operation["parameters"])
            responses = operation["responses"]
            assert {"200", "401", "403"} <= set(responses)
            if method == "post":
                assert {"201", "409", "422", "503"} <= set(responses)
            for status, response in responses.items():
                kind = "application/problem+json" if int(status) >= 400 else None
                assert kind is None or list(response["content"]) == [kind]
    assert len(names) == sum(len(item) for item in found["paths"].values())


def test_its_schemas_are_schemas_and_lead_somewhere():
    found = document()
    schemas = found["components"]["schemas"]
    for schema in schemas.values():
        jsonschema_rs.meta.validate(schema)  # 2020-12, which OpenAPI 3.1 takes
    for reference in references(found):
        assert reference.removeprefix("#/components/schemas/") in schemas
    assert all("__" not in name for name in schemas)


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_the_example_of_every_body_is_taken(kind):
    (example,) = document()["components"]["schemas"][kind.__name__]["examples"]
    kind.model_validate_json(json.dumps(example), strict=True)


def test_a_forecast_is_as_described():
    made = Forecast(
        channel="jar-a-wall-3", at_s=1e9, target_s=1e9 + 3600.0, value_c=52.1, low_c=50.4,
        high_c=54.0, level=0.9, limit_c=60.0, over=0.01, crosses_s=None, early=False,
    )  # fmt: skip
    said = messages.forecast(made)
    as_described(said, "ForecastMessage")


def test_without_a_token_none_is_asked_for():
    found = document(secured=False)
    assert "security" not in found
    assert "401" not in json.dumps(found)
    assert document()["security"] == [{"bearer": []}, {"cookie": []}]


@pytest.fixture
def bench(tmp_path):
    """A bench that asks for its token, with a burn lit and an alarm raised."""
    text = TWO_PROBES.replace("127.0.0.1:0", "0.0.0.0:0") + NEAR_A_LIMIT
    with BenchProcess(tmp_path, text) as bench:
        bench.start()
        bench.opened()
        bench.write(lambda: [45.0, 22.0])
        yield bench


def asked(bench, token, path, body=None):
    request = urllib.request.Request(
        bench.address + path,
        data=None if body is None else json.dumps(body).encode(),
        headers={"authorization": f"Bearer {token}"},
    )
    with urllib.request.urlopen(request, timeout=patient(15)) as answer:
        return json.load(answer)


def of_this_bench(found, burn, alarm):
    """The description with what this bench has in it, so that requests get past the doorstep."""
    subjects = {"burns": burn, "trials": "cedar-6", "alarms": alarm, "channels": "room"}
    known = {"channel": ["jar-a-wall-3", "room"], "station": ["jar-a"]}
    paths = {}
    for path, item in found["paths"].items():
        if path.split("/")[2] in ALIKE:
            continue
        subject = subjects.get(path.split("/")[2], "none")
        for operation in item.values():
            for parameter in operation["parameters"]:
                if parameter["name"] == "id":
                    parameter["example"] = subject
                elif parameter["name"] in known:
                    parameter["schema"] = {"enum": known[parameter["name"]]}
        if "post" in item and "{id}" in path:
            # In the path: an id entered before is answered as before, wherever it is posted to.
            item["post"]["parameters"] = []
            paths[path.replace("{id}", subject)] = item
        else:
            paths[path] = item
    for kind in KINDS.values():
        properties = found["components"]["schemas"][kind.__name__]["properties"]
        for name in TEXTS.keys() & properties.keys():
            properties[name] = {"enum": TEXTS[name]}
        for name in FIGURES.keys() & properties.keys():
            properties[name]["items"] = FIGURES[name]
    return {**found, "paths": paths}


def once(found):
    """The description with each thing of the code once, for the short form.

    Without what a body shares with a smaller one (one type, tried there), and without the records
    of these kinds: every kind has the same routes.
    """
    for path in list(found["paths"]):
        if path.split("/")[2] in ("rounds", "thermometers"):
            del found["paths"][path]
    schemas = found["components"]["schemas"]
    posted = [schemas[one.removeprefix("#/components/schemas/")] for one in bodies(found)]
    known = set()
    for schema in sorted(posted, key=lambda schema: len(schema["properties"])):
        own = {
            name: field
            for name, field in schema["properties"].items()
            if name in schema["required"] or (name, json.dumps(field)) not in known
        }
        known |= {(name, json.dumps(field)) for name, field in own.items()}
        schema["properties"] = own
        for example in schema.get("examples", ()):
            for name in example.keys() - own.keys():
                del example[name]
    return found


def bodies(found):
    """Every $ref to the schema of a body that is posted, once."""
    posted = [one["post"]["requestBody"] for one in found["paths"].values() if "post" in one]
    return {reference: None for one in posted for reference in references(one)}


@pytest.mark.faults
def test_no_request_is_a_fault_of_the_server_and_every_answer_is_as_described(
    bench, tmp_path, long
):
    """By `make faults` with every field of every body, all methods and more random requests."""
    token = (bench.data / tokens.NAME).read_text().strip()
    lit = {"id": "lit-by-test", "station": "jar-a", "trial": "cedar-6", "watched_by": "Ines"}
    burn = asked(bench, token, "/api/burns", lit)["burn"]
    alarms = until(lambda: asked(bench, token, "/api/now")["alarms"], "an alarm is raised")
    found = of_this_bench(asked(bench, token, "/api/openapi.json"), burn, alarms[0]["alarm"])
    if not long:
        found = once(found)
        (tmp_path / "schemathesis.toml").write_text(
            '[phases.coverage]\nunexpected-methods = ["DELETE"]\n'
        )
    (tmp_path / "openapi.json").write_text(json.dumps(found))
    done = subprocess.run(
        [
            *(Path(sys.executable).with_name("schemathesis"), "run", "openapi.json"),
            *("--url", bench.address, "--header", f"Authorization: Bearer {token}"),
            *("--seed", os.environ.get("WICKBENCH_SEED", "1")),
            *("--max-examples", "20" if long else "2", "--warnings", "off"),
            *("--phases", "examples,coverage,fuzzing"),
            *("--exclude-path", "/api/live"),  # it never ends, which has tests of its own
            # Times and quantities have a grammar that a schema does not tell, and the bench a state
            *("--exclude-checks", "positive_data_acceptance"),
        ],
        cwd=tmp_path,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=patient(400),  # some 45 s on two calm cores, in the long form
        check=False,
    )
    assert done.returncode == 0, done.stdout[-8000:] + done.stderr[-2000:]
    tested = sum(len(item) for item in found["paths"].values()) - 1
    assert re.search(rf"Tested: +{tested}\b", done.stdout), done.stdout
    log = bench.log.read_text()
    assert "Traceback" not in log
    assert token not in log
    assert asked(bench, token, "/api/now")["instruments"][0]["state"] == "up"  # it watches on
