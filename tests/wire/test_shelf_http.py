"""Records over HTTP: each kind by the same routes, told as it is described."""

import pytest

from logger.intake.shelf_bodies import SHELF
from tests.support.described import as_described
from tests.support.web_bench import serving


@pytest.mark.parametrize("kind", SHELF.values(), ids=SHELF)
async def test_every_kind_is_added_changed_withdrawn_and_stays_to_be_seen(tmp_path, kind):
    at = f"/api/{kind.plural}"
    async with serving(tmp_path) as bench:
        added = await bench.post(at, name="n 1", by="Ines")
        assert added.status_code == 201, added.text
        as_described(added.json(), "RecordedMessage")
        assert added.json()["text"] == f"{kind.name} n 1: added"
        twice = await bench.post(at, name="N 1")
        assert twice.status_code == 409
        changed = await bench.post(f"{at}/n 1/change", remark="of the second lot", by="Tom")
        assert changed.status_code == 201, changed.text
        gone = await bench.post(f"{at}/n 1/withdraw", why="given away")
        assert gone.status_code == 201, gone.text
        sheet = (await bench.client.get(f"{at}/n 1")).json()
        as_described(sheet, "SheetMessage")
        assert [(one["version"], one["by"]) for one in sheet["versions"]] == [
            (1, "Ines"), (2, "Tom"), (3, ""),
        ]  # fmt: skip
        assert (sheet["withdrawn"], sheet["why"]) == (True, "given away")
        assert sheet["fields"] == {"remark": "of the second lot"}
        shelf = (await bench.client.get(at)).json()
        as_described(shelf, "ShelfMessage")
        assert [one["name"] for one in shelf["records"]] == ["n 1"]
        assert (await bench.client.get(f"{at}/n 2")).status_code == 404


async def test_a_vessel_says_who_checked_what_and_what_is_missing(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.post("/api/vessels", name="amber-75", leak_24_h="passed", by="Ines")
        await bench.post("/api/vessels/amber-75/change", tip_10_degrees="failed", by="Tom")
        sheet = (await bench.client.get("/api/vessels/amber-75")).json()
        assert {key: one["by"] for key, one in sheet["checked"].items()} == {
            "leak_24_h": "Ines", "tip_10_degrees": "Tom",
        }  # fmt: skip
        (note,) = sheet["notes"]
        assert "failed: tip 10 degrees" in note
        assert "statement on file" in note


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"wall": "3"}, "has no unit"),
        ({"wall": "3 g"}, "unit of length"),
        ({"material": "wood"}, "material: must be 'glass', 'ceramic' or 'metal'"),
        ({"hieght": "3 mm"}, "hieght: is no field here"),
        ({"head_space": "90 mm", "height": "80 mm"}, "head_space: must be less than the height"),
    ],
)
async def test_what_cannot_be_is_refused_in_plain_words(tmp_path, fields, words):
    async with serving(tmp_path) as bench:
        answer = await bench.post("/api/vessels", name="amber-75", **fields)
        assert answer.status_code == 422
        assert words in answer.json()["detail"]
        assert (await bench.client.get("/api/vessels")).json()["records"] == []


async def test_a_trial_lit_by_name_is_on_the_shelf_and_takes_its_vessel_later(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light(trial="cedar-6")
        await bench.seconds(2)
        (trial,) = (await bench.client.get("/api/trials")).json()["records"]
        assert (trial["name"], trial["fields"]) == ("cedar-6", {})
        await bench.post("/api/vessels", name="amber-75")
        changed = await bench.post("/api/trials/cedar-6/change", vessel="amber-75")
        assert changed.status_code == 201
        unknown = await bench.post("/api/trials/cedar-6/change", vessel="green-60")
        assert unknown.status_code == 404
        assert "there is: amber-75" in unknown.json()["detail"]


async def test_an_address_says_which_methods_it_takes(tmp_path):
    async with serving(tmp_path) as bench:
        allowed = (await bench.client.options("/api/vessels")).headers["allow"]
        assert {one.strip() for one in allowed.split(",")} == {"GET", "HEAD", "POST"}
