"""A candle lit by its code: what its records say of it, and a vessel that nobody cleared."""

import time

import pytest

from logger.errors import StoreError
from logger.service import running_service
from tests.support.waiting import patient
from tests.support.web_bench import serving

CLEARED = dict.fromkeys(
    (
        "leak_24_h",
        "tip_10_degrees",
        "scratches_and_stones",
        "statement_on_file",
        "nothing_flammable",
    ),
    "passed",
)


async def shelf(bench, **checks):
    for path, body in (
        ("vessels", {"name": "tin-60", "material": "metal", **checks}),
        ("trials", {"name": "cedar-6", "vessel": "tin-60"}),
        ("testers", {"name": "M6", "trial": "cedar-6"}),
    ):
        answer = await bench.post(f"/api/{path}", **body)
        assert answer.status_code == 201, answer.text


async def burn_of(bench, answer):
    return (await bench.client.get(f"/api/burns/{answer.json()['burn']}")).json()


async def test_the_code_on_the_vessel_is_enough(tmp_path):
    async with serving(tmp_path) as bench:
        await shelf(bench, **CLEARED)
        lit = await bench.post("/api/burns", station="jar-a", tester="m6", watched_by="Ines")
        assert lit.status_code == 201, lit.text
        await bench.seconds(2)
        found = await burn_of(bench, lit)
        assert (found["trial"], found["vessel"], found["reason"]) == ("cedar-6", "tin-60", None)
        assert found["material"] == "metal"  # the station's is glass
        record = (await bench.client.get(f"/burns/{found['burn']}/record")).text
        assert "vessel tin-60" in record
    async with serving(tmp_path) as bench:  # kept with the burn, not looked up again
        await bench.post("/api/vessels/tin-60/change", material="ceramic")
        assert (await burn_of(bench, lit))["material"] == "metal"


async def test_a_vessel_that_is_not_cleared_needs_a_reason_that_the_record_shows(tmp_path):
    async with serving(tmp_path) as bench:
        await shelf(bench, **{**CLEARED, "leak_24_h": "failed"})
        body = {"station": "jar-a", "tester": "M6", "watched_by": "Ines"}
        asked = await bench.post("/api/burns", **body)
        assert asked.status_code == 409
        assert "tin-60 is not cleared; failed: leak 24 h" in asked.json()["detail"]
        assert (await bench.now())["stations"][0]["burn"] is None
        lit = await bench.post("/api/burns", **body, reason="in a tray, it leaks a drop a day")
        assert lit.status_code == 201, lit.text
        await bench.seconds(2)
        found = await burn_of(bench, lit)
        assert found["reason"] == "in a tray, it leaks a drop a day"
        record = (await bench.client.get(f"/burns/{found['burn']}/record")).text
        assert "not cleared:</strong> in a tray" in record


@pytest.mark.parametrize("trial", ["cedar-7", "a name of its own"])
async def test_a_trial_with_just_a_name_burns_as_ever(tmp_path, trial):
    async with serving(tmp_path) as bench:
        await bench.light(trial=trial)
        await bench.seconds(2)
        burn = (await bench.now())["stations"][0]["burn"]
        found = (await bench.client.get(f"/api/burns/{burn}")).json()
        assert (found["trial"], found["vessel"], found["material"]) == (trial, None, "glass")


async def test_neither_trial_nor_a_known_code_is_refused(tmp_path):
    async with serving(tmp_path) as bench:
        answer = await bench.post("/api/burns", station="jar-a", tester="Z9")
        assert answer.status_code == 409
        assert "name the trial" in answer.json()["detail"]
        assert (await bench.post("/api/burns", station="jar-a")).status_code == 422


async def test_a_correction_of_trial_or_tester_looks_its_records_up_again(tmp_path):
    async with serving(tmp_path) as bench:
        await shelf(bench, **CLEARED)
        for path, body in (
            ("vessels", {"name": "bowl-80", "material": "ceramic"}),  # that nobody cleared
            ("wicks", {"name": "marrow-8"}),
            ("wickings", {"name": "one-8", "wick": "marrow-8"}),
            ("trials", {"name": "beech-8", "vessel": "bowl-80", "wicking": "one-8"}),
        ):
            assert (await bench.post(f"/api/{path}", **body)).status_code == 201
        lit = await bench.post("/api/burns", station="jar-a", tester="M6")
        await bench.seconds(1)
        path = f"/api/entries/{lit.json()['id']}/correct"
        moved = await bench.post(path, trial="beech-8", why="the wrong jar")
        assert moved.status_code == 201, moved.text
        await bench.post("/api/testers/M6/change", clear=["vessel"], trial="cedar-6")
        await bench.seconds(1)
        found = await burn_of(bench, lit)
        known = (found["trial"], found["vessel"], found["material"], found["wick"])
        assert known == ("beech-8", "bowl-80", "ceramic", "marrow-8")
        assert found["reason"] == "known only since a correction: the wrong jar"
        moved = await bench.post(path, trial="a name alone", clear=["tester"], why="again")
        assert moved.status_code == 201, moved.text
        assert "vessel none, not bowl-80" in moved.json()["text"]
        await bench.seconds(1)
        found = await burn_of(bench, lit)
        known = (found["trial"], found["vessel"], found["material"], found["wick"])
        assert known == ("a name alone", None, "glass", None)  # the station's own material
        assert found["reason"] is None


async def test_what_a_slow_disk_left_out_is_told_on_page_and_record(tmp_path, monkeypatch):
    def hang(*_asked):
        time.sleep(patient(0.5))
        raise StoreError("the disk is slow")

    monkeypatch.setattr(running_service, "RECORDS_WITHIN_S", 0.05)
    monkeypatch.setattr(running_service, "STORED_WITHIN_S", 0.05)
    async with serving(tmp_path) as bench:
        await shelf(bench, **CLEARED)
        with monkeypatch.context() as disk:
            disk.setattr(running_service, "with_records", hang)
            lit = await bench.post("/api/burns", station="jar-a", trial="cedar-6", tester="M6")
            assert lit.status_code == 201, lit.text
        await bench.seconds(1)
        for path in ("/", "/burns/1", "/burns/1/record"):
            assert "the disk did not give the records of" in (await bench.client.get(path)).text
        found = await burn_of(bench, lit)
        assert (found["vessel"], len(found["lacks"])) == (None, 1)
        path = f"/api/entries/{lit.json()['id']}/correct"
        with monkeypatch.context() as disk:
            disk.setattr(running_service.records, "sensed", hang)
            moved = await bench.post(path, at="2 min ago", why="entered late")
            assert moved.status_code == 201, moved.text
            assert "the disk did not give what was measured" in moved.json()["text"]
        await bench.seconds(1)
        for path_ in ("/", "/burns/1", "/burns/1/record"):
            text = (await bench.client.get(path_)).text
            assert "the disk did not give what was measured" in text
        moved = await bench.post(path, tester="m 6", why="now the disk answers")
        assert moved.status_code == 201, moved.text
        await bench.seconds(1)
        found = await burn_of(bench, lit)
        assert (found["vessel"], found["lacks"]) == ("tin-60", [])


async def test_a_lighting_that_waits_for_an_answer_says_that_nothing_watches_it(tmp_path):
    async with serving(tmp_path) as bench:
        await shelf(bench, **{**CLEARED, "leak_24_h": "failed"})
        await bench.light(trial="beech 4")
        await bench.post("/api/burns/1/out")
        await bench.seconds(2)
        for body in (
            {"tester": "M6"},  # its vessel is not cleared
            {"trial": "beech4"},  # nearly another's name
            {"trial": "beech 4", "mass": "200 g", "wax": "220 g"},  # improbable
        ):
            asked = await bench.post("/api/burns", station="jar-a", **body)
            assert asked.status_code == 409
            assert "the bench does not watch it: answer now, or put it out" in asked.text
            form = {"id": "form-000001", **body}
            page = await bench.client.post("/stations/jar-a/lit", data=form)
            assert page.status_code == 409
            assert "the bench does not watch it: answer now, or put it out" in page.text


async def test_the_testers_on_the_shelf_are_there_to_choose_from(tmp_path):
    async with serving(tmp_path) as bench:
        assert '<option value="M6">' not in (await bench.client.get("/")).text
        await shelf(bench)
        page = (await bench.client.get("/")).text
        assert '<datalist id="testers"><option value="M6"></option></datalist>' in page
        await bench.post("/api/testers/M6/withdraw", why="broken")
        assert '<option value="M6">' not in (await bench.client.get("/")).text
