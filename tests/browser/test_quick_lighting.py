"""A known trial is lit from a list: four taps, and the checks stay what they are."""

import time

import pytest
from playwright.sync_api import expect

from logger.burn.safety import CHECKS
from logger.store.queries import open_read
from tests.support.waiting import until

LEAST_PX = 44  # of a target (WCAG 2.2, 2.5.5 Target Size (Enhanced))


@pytest.fixture
def known(bench_by_hand):
    """A bench on which candles burned before; `willow-2` stands on the shelf only."""
    bench = bench_by_hand
    for days, trial, tester in ((9, "cedar-6", "M6"), (6, "slate-1", "S1"), (3, "cedar-6", "M7")):
        status, answer = bench.post(
            "/api/burns",
            station="jar-a",
            trial=trial,
            tester=tester,
            at=f"{days} d ago",
            checks=[*CHECKS],
        )
        assert status == 201, answer
        bench.post(f"/api/burns/{answer['burn']}/out", at=f"{days * 24 - 2} h ago")
    assert bench.post("/api/trials", name="willow-2")[0] == 201
    return bench


def choices(page, station="jar-a"):
    return page.locator(f"#{station} label").filter(has=page.locator("[data-says]"))


def test_four_taps(known, visit):
    bench = known
    visitor = visit(f"{bench.address}/stations/jar-a")
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    taps = [
        page.get_by_role("link", name="Light a known trial"),
        choices(page).filter(has_text="slate-1, S1"),
        page.get_by_text("I have checked all 6"),
        page.get_by_role("button", name="It is lit"),
    ]
    began_s = time.monotonic()
    for target in taps:
        target.click()
    expect(page.locator(".phase")).to_contain_text("recorded lit at")
    assert time.monotonic() - began_s < 15.0
    assert len(taps) == 4
    now = bench.now()["stations"][0]
    assert (now["trial"], now["state"]) == ("slate-1", "lit")
    with open_read(bench.data) as reader:
        burn = reader.burn(now["burn"])
    assert burn.tester == "S1"
    assert burn.checks == tuple(CHECKS.values())  # each as it stands there, as by the long form
    assert bench.alarm("unchecked/jar-a") is None
    assert visitor.complaints == []


def test_the_last_used_comes_first_and_the_shelf_last(known, visit):
    page = visit(f"{known.address}/light").page
    said = (
        choices(page)
        .locator("[data-says]")
        .evaluate_all("nodes => nodes.map(node => node.dataset.says)")
    )
    assert said == [f"jar-a: {one}" for one in ("cedar-6, M7", "slate-1, S1", "cedar-6, M6",
                                                "willow-2")]  # fmt: skip
    for statement in CHECKS.values():
        expect(page.locator(".checks")).to_contain_text(statement)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for target in page.locator("main label.tick, main button, main .button").all():
        if target.is_visible():
            assert target.bounding_box()["height"] >= LEAST_PX


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_two_stations_with_one_look_at_the_checks(known, visit, scripts):
    bench = known
    page = visit(f"{bench.address}/light", scripts=scripts).page
    choices(page).filter(has_text="cedar-6, M6").click()
    choices(page, "tin-b").filter(has_text="willow-2").click()
    page.get_by_text("I have checked all 6").click()
    page.get_by_role("button", name="It is lit").click()
    page.wait_for_url(f"{bench.address}/")
    now = {one["station"]: (one["trial"], one["state"]) for one in bench.now()["stations"]}
    assert now == {"jar-a": ("cedar-6", "lit"), "tin-b": ("willow-2", "lit")}
    page.goto(f"{bench.address}/light")
    expect(page.locator("main")).to_contain_text("lit at every station")


def test_what_is_refused_at_one_does_not_undo_the_other(known, visit):
    bench = known
    bench.post("/api/vessels", name="amber-75")
    bench.post("/api/trials/willow-2/change", vessel="amber-75")
    page = visit(f"{bench.address}/light").page
    choices(page).filter(has_text="cedar-6, M6").click()
    choices(page, "tin-b").filter(has_text="willow-2").click()
    page.get_by_role("button", name="It is lit").click()
    answer = page.locator("form[action='/light'] > .answer")
    expect(answer).to_contain_text("jar-a is recorded lit. tin-b: nothing was recorded: the vessel")
    until(lambda: bench.alarm("unchecked/jar-a"), "nobody ticked anything")
    expect(page.locator("#jar-a")).to_have_count(0)  # it burns: the bench has drawn it anew
    page.get_by_text("Lit earlier, or a vessel is not cleared").click()
    page.locator("[name=reason]").fill("an empty jar, for its look")
    page.get_by_role("button", name="It is lit").click()
    expect(page.locator(".phase")).to_contain_text("recorded lit at")
    assert [one["state"] for one in bench.now()["stations"]] == ["lit", "lit"]
    texts = [one["text"] for one in bench.get(f"/api/burns/{bench.now()['stations'][0]['burn']}")
             ["entries"]]  # fmt: skip
    assert len(texts) == 1


def test_a_lighting_without_a_connection_is_loud_and_arrives_once(known, visit):
    bench = known
    page = visit(f"{bench.address}/light").page
    expect(page.locator("#live-word")).to_have_text("live")
    page.context.set_offline(True)
    choices(page).filter(has_text="cedar-6, M6").click()
    page.get_by_role("button", name="It is lit").click()
    loud = page.locator("#unsent .urgent")
    expect(loud).to_contain_text("THE BENCH DOES NOT KNOW IT YET: Lit (jar-a: cedar-6, M6)")
    expect(loud).to_contain_text("stay with it")
    tapped_s = time.time()
    page.wait_for_timeout(1500)
    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_hidden()
    now = bench.now()["stations"][0]
    assert now["state"] == "lit"
    assert int(now["burn"].rpartition("-")[2]) == pytest.approx(tapped_s, abs=1.5)
