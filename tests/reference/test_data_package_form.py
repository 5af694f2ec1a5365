"""The data package against its published specification, by a reader that others wrote.

Data Package, Data Resource and Table Schema, version 1: https://specs.frictionlessdata.io; the
reader is `frictionless`, the library of those who keep the specification.
"""

import hashlib
import json
import re
import zipfile

import frictionless
import pytest

from logger.service.exporting import Selection, export_package
from logger.store.queries import open_read
from tests.support.packaged_bench import JPEG, packed_bench

TYPES = {  # Table Schema, version 1: those that are used here
    "string", "number", "integer", "boolean", "object", "datetime",
}  # fmt: skip


@pytest.fixture
async def package(tmp_path):
    bench = await packed_bench(tmp_path / "data")
    export_package(bench, Selection(), tmp_path / "bench.zip", licence="CC-BY-4.0")
    with zipfile.ZipFile(tmp_path / "bench.zip") as archive:
        archive.extractall(tmp_path / "unpacked")
    return bench, tmp_path / "bench.zip", tmp_path / "unpacked" / "datapackage.json"


def test_it_is_valid_zipped_and_unpacked_and_a_wrong_one_is_not(package):
    _, zipped, described = package
    for path in (zipped, described):
        report = frictionless.validate(str(path))
        assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "note"])
        assert report.stats["tasks"] == 11  # ten tables, a photo
    events = described.parent / "data" / "events.csv"
    events.write_text(events.read_text().replace(",alarm,", ",,", 1))
    report = frictionless.validate(str(described))
    kinds = {kind for (kind,) in report.flatten(["type"])}
    assert kinds >= {"hash-count", "constraint-error"}


def test_its_description_has_what_version_1_asks_for(package):
    _, _, path = package
    found = json.loads(path.read_text())
    assert found["profile"] == "data-package"
    assert re.fullmatch(r"[a-z0-9._-]+", found["name"])  # Data Package, `name`
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", found["created"])
    assert found["licenses"] == [{"name": "CC-BY-4.0"}]  # a name, a path or both
    assert all("title" in one for one in found["sources"])
    names = [one["name"] for one in found["resources"]]
    assert len(set(names)) == len(names)
    for one in found["resources"]:
        content = (path.parent / one["path"]).read_bytes()
        assert one["bytes"] == len(content)
        # Data Resource, `hash`: others than MD5 are named before the colon
        assert one["hash"] == "sha256:" + hashlib.sha256(content).hexdigest()
        assert re.fullmatch(r"[a-z0-9._/-]+", one["name"])
        assert ".." not in one["path"]
        assert not one["path"].startswith("/")
        if one["profile"] == "tabular-data-resource":
            assert {field["type"] for field in one["schema"]["fields"]} <= TYPES
            assert one["schema"]["missingValues"] == [""]
    units = {
        (one["name"], field["name"]): field["unit"]
        for one in found["resources"]
        for field in one.get("schema", {}).get("fields", ())
        if "unit" in field
    }
    assert units == {("channels", "height_mm"): "mm"}


def test_others_read_the_same_figures_out_of_it(package):
    bench, _, path = package
    read = frictionless.Package(str(path))
    with open_read(bench.bench.data) as reader:
        estimates = list(reader.estimates())
        readings = list(reader.readings())
    rows = read.get_resource("estimates").read_rows()
    assert len(rows) == len(estimates)
    for row, one in zip(rows, estimates, strict=True):
        assert row["time"].timestamp() == pytest.approx(one.at_s, abs=1e-6)
        assert (row["channel"], row["quality"]) == (one.channel, one.quality)
        figures = row["value"], row["standard_uncertainty"]
        figures = tuple(None if figure is None else float(figure) for figure in figures)
        assert figures == (one.value, one.standard_uncertainty)
    rows = read.get_resource("readings").read_rows()
    assert [float(row["value"]) for row in rows] == [one.value for one in readings]
    (burn, *_) = read.get_resource("burns").read_rows()
    assert burn["body"]["limits"]["wall"]["glass"]["limit_c"] == 60.0
    assert (path.parent / read.get_resource("photos").read_rows()[0]["path"]).read_bytes() == JPEG
