"""One candle that serves several wicks in turn: its mass goes on, and what it cannot show is said.

That such a candle shows neither its last quarter nor its hot throw is common practice.
"""

from dataclasses import replace

from logger.burn.consumption import consumption
from logger.burn.shared_pour import NOT_JUDGED, not_judged
from logger.decision.outlook import outlook
from logger.words import Words
from tests.support.web_bench import serving
from tests.support.weighed_burns import evening

WICKS = ("M4", "M6", "M8")


async def burned(bench, trial, after, **lit):
    answer = await bench.post("/api/burns", station="jar-a", tester="S1", trial=trial, **lit)
    assert answer.status_code == 201, answer.text
    number = answer.json()["number"]
    for _ in range(2):
        await bench.seconds(1, wall=40.0, room=22.0)
    await bench.post(f"/api/burns/{number}/out", ended="planned", how="snuffer")
    await bench.seconds(1)
    weighed = await bench.post(f"/api/burns/{number}/weigh-ins", mass=f"{after} g", sure=True)
    assert weighed.status_code == 201, weighed.text
    await bench.seconds(2)
    return answer.json()


async def test_its_mass_goes_on_from_wick_to_wick(tmp_path):
    async with serving(tmp_path) as bench:
        tester = {"name": "S1", "shared_pour": "yes", "wick_order": "M4, M6, M8"}
        added = await bench.post(
            "/api/testers", **tester, hole_depth="60 mm", remelt="heat gun", remelt_time="4 min"
        )
        assert added.status_code == 201, added.text
        sheet = (await bench.client.get("/api/testers/S1")).json()
        assert "one burn a wick" in sheet["notes"][0]
        assert sheet["fields"]["remelt_time"] == "4 min"
        first = await burned(bench, "wick M4", 520.0, mass="532 g", wax="220 g", wax_level="72 mm")
        await burned(bench, "wick M6", 505.0, new_trial=True, wax_level="68 mm")
        again = await burned(bench, "wick M4", 500.0)
        assert "has burned on this shared pour already (burn 1)" in again["text"]
        assert "already" not in first["text"]
        offered = (await bench.client.get("/light")).text
        assert "next wick of the shared pour: M8" in offered
        assert 'value="trial=wick+M8&amp;tester=S1"' in offered
        found = [(await bench.client.get(f"/api/burns/{n}")).json() for n in (1, 2, 3)]
        weighed = [(one["weighed"]["before_g"], one["weighed"]["used_g"]) for one in found]
        assert weighed == [(532.0, 12.0), (520.0, 15.0), (505.0, 5.0)]
        assert [one["stated"].get("wax_level_mm") for one in found] == [72.0, 68.0, None]
        assert {one["shared_pour"] for one in found} == {True}
        assert found[1]["verdict"]["not_judged"] == [*NOT_JUDGED]
        assert all(one["weighed"]["life"] is None for one in found)
        proved = found[1]["proves"][-1]
        assert (proved["proved"], proved["remark"]) == ("no", "not judged on a shared pour")
        trial = (await bench.client.get("/api/trials/wick%20M6/verdict")).json()
        assert trial["not_judged"] == [*NOT_JUDGED]
        assert "is not judged: burn this wick in a candle of its own" in trial["outlook"]
        record = (await bench.client.get("/burns/2/record")).text
        assert "these are not judged: the last quarter of the wax;" in record
        assert "a shared pour</p>" in record
        # the same code on an own candle is judged in full
        changed = await bench.post("/api/testers/S1/change", shared_pour="no")
        assert changed.status_code == 201
        await burned(bench, "wick M4", 480.0, mass="490 g")
        trial = (await bench.client.get("/api/trials/wick%20M4/verdict")).json()
        assert trial["not_judged"] == []


def test_only_a_trial_on_shared_pours_alone_leaves_it_open():
    shared = replace(evening(0, 532.0, 520.0, wax_g=220.0), shared_pour=True, tester="S1")
    own = replace(evening(1, 532.0, 500.0, wax_g=220.0), tester="T1")
    assert not_judged([shared]) == NOT_JUDGED
    assert not_judged([shared, own]) == not_judged([]) == ()
    said = outlook([shared], Words(), limit_c=60.0).text
    assert "shared pour" in said
    assert "shared pour" not in outlook([shared, own], Words(), limit_c=60.0).text


def test_the_mass_left_by_one_wick_is_where_the_next_begins():
    burns = [
        replace(
            evening(number, before_g, after_g, wax_g=220.0 if number == 0 else None),
            trial=f"wick {wick}",
            tester="S1",
            shared_pour=True,
        )
        for number, (wick, before_g, after_g) in enumerate(
            zip(WICKS, (532.0, None, None), (520.0, 505.0, 495.0), strict=True)
        )
    ]
    assert len({one.candle for one in burns}) == 1
    found = consumption(burns)
    assert [found[one.id].used_g for one in burns] == [12.0, 15.0, 10.0]
    # half-way through the last burn 32 g of the 220 g poured are gone
    assert found[burns[-1].id].used_share == (532.0 - 500.0) / 220.0
