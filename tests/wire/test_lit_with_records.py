"""A candle lit by its code: what its records say of it, and a vessel that nobody cleared."""

import pytest

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
