"""What was tapped while the bench could not be reached: it arrives once, with its own time."""

import time

import pytest
from PIL import Image
from playwright.sync_api import expect

from logger.timestamps import parse_rfc3339
from tests.support.waiting import until

CHECKED = ["tray", "clear", "vessel", "room", "lid", "watcher"]
FAILS_AFTER = """
window.fetch = async (url, how) => {
  const answer = await window.reach(url, how);
  if (how.method !== "POST") return answer;
  const text = async () => "Internal Server Error";
  return { ok: false, status: 500, url: answer.url, redirected: answer.redirected, text };
};
null
"""  # of an entry that is taken: the page to which it leads
NEAR_S = 0.8  # between the test's look at the clock and the browser's tap


@pytest.fixture
def lit(bench_by_hand):
    """A bench by hand with a candle burning at its first station, and that burn."""
    status, answer = bench_by_hand.post(
        "/api/burns", station="jar-a", trial="cedar-6", checks=CHECKED
    )
    assert status == 201, answer
    return bench_by_hand, answer["burn"]


@pytest.fixture
def page(lit, visit):
    """The page of its station, live."""
    page = visit(f"{lit[0].address}/stations/jar-a").page
    expect(page.locator("#live-word")).to_have_text("live")
    return page


def note(page, text):
    page.get_by_text("Note", exact=True).click()
    page.locator("details[open] textarea").fill(text)
    page.get_by_role("button", name="Record the note").click()
    return time.time()


def read(page, values, height="40"):
    page.get_by_text("Reading", exact=True).click()
    form = page.locator("form[action$='/readings']").first
    form.locator('[name="values"]').fill(values)
    form.locator('[name="height"]').fill(height)
    form.locator("button.main").last.click()
    return time.time()


def entered(bench, burn):
    """What counts of a burn but its lighting, by its first words."""
    found = bench.get(f"/api/burns/{burn}")["entries"]
    return [one for one in found if not one["text"].startswith("lit")]


def unsent(page):
    return page.locator("#unsent article")


def test_three_entries_arrive_once_each_with_its_own_time(lit, page):
    bench, burn = lit
    page.context.set_offline(True)
    tapped = [read(page, "39,6 39,8 39,9")]
    expect(unsent(page)).to_have_count(1)
    page.wait_for_timeout(1200)
    tapped.append(note(page, "flame 20 mm"))
    page.wait_for_timeout(1200)
    page.get_by_text("I have it in sight").click()
    tapped.append(time.time())
    expect(unsent(page)).to_have_count(3)
    for one, words in zip(
        unsent(page).all(), ("Record the reading (39,6", "flame 20 mm", "in sight"), strict=True
    ):
        expect(one).to_contain_text("Not yet sent")
        expect(one).to_contain_text(words)
    page.wait_for_timeout(1500)
    assert entered(bench, burn) == []

    page.context.set_offline(False)
    back_s = time.time()
    expect(page.locator("#unsent")).to_be_hidden()
    found = entered(bench, burn)
    assert len(found) == 3
    at = [parse_rfc3339(one["at"]) for one in found]
    assert at == pytest.approx(tapped, abs=NEAR_S)
    came = [parse_rfc3339(one["entered"]) for one in found]
    assert came == sorted(came)
    assert came[0] >= back_s - 0.1
    expect(page.locator("#recorded")).to_contain_text("tapped at")
    expect(page.locator(".entry")).to_have_count(4)


def test_an_answer_that_is_lost_counts_once(lit, page):
    bench, burn = lit
    lost = []

    def lose_first(route):
        answer = route.fetch()
        if lost:
            route.fulfill(response=answer)
        else:
            lost.append(answer.status)
            route.abort()

    page.route("**/observations", lose_first)
    note(page, "soot on the rim")
    expect(unsent(page)).to_contain_text("soot on the rim")
    expect(page.locator("#unsent")).to_be_hidden()
    assert lost
    assert len(entered(bench, burn)) == 1

    # the entry is taken, and the page after it fails
    page.unroute("**/observations")
    page.evaluate("window.reach = window.fetch; null")
    page.evaluate(FAILS_AFTER)
    note(page, "soot at 3")
    expect(page.locator("#recorded")).to_contain_text("Record the note")
    expect(page.locator('details[data-key="note"] .answer')).to_have_text("")
    expect(page.locator("#unsent")).to_be_hidden()
    assert len(entered(bench, burn)) == 2

    page.evaluate("window.fetch = window.reach; null")

    # nobody waits for five seconds without a second tap
    held = []

    def hold(route):
        held.append(route)

    page.route("**/observations", hold)
    page.get_by_text("Note", exact=True).click()
    page.locator("details[open] textarea").fill("soot below the rim")
    page.get_by_role("button", name="Record the note").dblclick()
    until(lambda: held or page.wait_for_timeout(20), "it is on its way")
    for one in held:
        one.abort()
    expect(unsent(page)).to_have_count(1)
    page.unroute("**/observations")
    expect(page.locator("#unsent")).to_be_hidden()
    assert len(entered(bench, burn)) == 3


def test_a_photo_is_kept_put_back_and_sent(lit, page, tmp_path):
    bench, burn = lit
    file, none = tmp_path / "jar.jpg", tmp_path / "none.jpg"
    Image.new("RGB", (400, 300), (190, 90, 40)).save(file)
    none.write_bytes(b"no picture")
    page.get_by_text("Photo", exact=True).click()
    form = page.locator('details[data-key="photo"] form')
    button = form.get_by_role("button", name="Keep the photo")

    def choose(path):
        form.locator('[name="photo"]').set_input_files(path)

    # what was chosen may be gone from the phone before it is tapped
    gone = tmp_path / "gone.jpg"
    gone.write_bytes(file.read_bytes())
    choose(gone)
    gone.unlink()
    button.click()
    expect(form.locator(".answer")).to_contain_text("Not recorded: the picture cannot be read")

    page.context.set_offline(True)
    choose(none)
    form.locator('[name="text"]').fill("soot at 9")
    button.click()
    tapped_s = time.time()
    expect(unsent(page)).to_contain_text(
        "Keep the photo (picture none.jpg; what it shows soot at 9"
    )
    none.unlink()
    page.wait_for_timeout(1000)
    page.context.set_offline(False)
    expect(unsent(page)).to_contain_text("this is no picture that can be read")
    unsent(page).get_by_role("button", name="Change it").click()
    expect(form.locator('[name="text"]')).to_have_value("soot at 9")
    assert form.locator('[name="photo"]').evaluate("one => one.files[0].name") == "none.jpg"
    choose(file)
    button.click()
    (found,) = until(lambda: page.wait_for_timeout(20) or entered(bench, burn), "it is sent")
    assert found["text"] == "photo: soot at 9"
    assert parse_rfc3339(found["at"]) == pytest.approx(tapped_s, abs=NEAR_S)
    expect(page.locator(".entry img.photo")).to_have_js_property("naturalWidth", 400)
    expect(page.locator("#unsent")).to_be_hidden()


def test_an_emergency_that_cannot_be_sent_is_said_loudly(lit, page):
    bench, _ = lit
    page.context.set_offline(True)
    note(page, "flame 20 mm")
    page.locator("a.emergency").click()
    page.get_by_role("button", name="The vessel is cracked").click()
    loud = page.locator("#unsent .urgent")
    expect(loud).to_contain_text("THE BENCH DOES NOT KNOW IT YET: The vessel is cracked")
    expect(loud).to_be_in_viewport(ratio=1)
    expect(loud).to_have_attribute("role", "alert")
    page.mouse.wheel(0, 2000)
    expect(loud).to_be_in_viewport(ratio=1)
    page.context.set_offline(False)
    expect(page.locator(".alarm.danger")).to_contain_text("the vessel is cracked")
    expect(page.locator("#unsent")).to_be_hidden()
    texts = [one["text"] for one in bench.get(f"/api/burns/{lit[1]}")["entries"]]
    assert "EMERGENCY" in texts[-2]  # before the note that was tapped before it


def test_what_is_refused_is_kept_changed_or_dropped(lit, page):
    bench, burn = lit
    page.context.set_offline(True)
    doubted_s = read(page, "139,6 139,8 139,9")
    read(page, "41 42 43", height="4000")
    note(page, "lost in the end")
    page.wait_for_timeout(1500)
    page.route("**/observations", lambda route: route.fulfill(status=409, body="<p data-detail>no"))
    page.context.set_offline(False)
    doubted, wrong, dropped = (unsent(page).nth(at) for at in range(3))
    expect(doubted).to_contain_text("Not recorded: Record the reading (139,6")
    expect(doubted).to_contain_text("did you mean")
    expect(wrong).to_contain_text("not a height on a vessel")
    expect(dropped).to_contain_text("no.")
    assert entered(bench, burn) == []

    # leaving would lose them: the browser asks
    asked = []
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.evaluate("location.href = '/'")
    page.wait_for_timeout(500)
    assert asked == ["beforeunload"]

    doubted.get_by_role("button", name="Keep it as it is").click()
    expect(unsent(page)).to_have_count(2)
    (found,) = entered(bench, burn)
    assert parse_rfc3339(found["at"]) == pytest.approx(doubted_s, abs=NEAR_S)

    unsent(page).last.get_by_role("button", name="Drop it").click()
    unsent(page).get_by_role("button", name="Change it").click()
    form = page.locator("form[action$='/readings']").first
    expect(form.locator(".answer")).to_contain_text("As tapped at")
    expect(form.locator('[name="values"]')).to_have_value("41 42 43")
    form.locator('[name="height"]').fill("40")
    form.locator("button.main").last.click()
    expect(page.locator("#recorded")).to_contain_text("Record the reading")
    changed = entered(bench, burn)[-1]
    assert parse_rfc3339(changed["at"]) == pytest.approx(doubted_s, abs=NEAR_S + 1.0)
    expect(page.locator("#unsent")).to_be_hidden()


def test_two_values_of_one_name_come_back_as_they_were_typed(lit, page):
    page.context.set_offline(True)
    page.get_by_text("Look", exact=True).click()
    form = page.locator('details[data-key="look"] form')
    for field, value in zip(form.locator('[name="pool"]').all(), ("62", "4000"), strict=True):
        field.fill(value)
    form.locator("button.main").click()
    expect(unsent(page)).to_have_count(1)
    page.context.set_offline(False)
    unsent(page).get_by_role("button", name="Change it").click()
    fields = form.locator('[name="pool"]')
    expect(fields.first).to_have_value("62")
    expect(fields.last).to_have_value("4000")


def test_an_emergency_that_is_refused_can_be_sent_again(lit, page):
    page.context.set_offline(True)
    page.locator("a.emergency").click()
    page.get_by_role("button", name="The vessel is cracked").click()
    expect(unsent(page)).to_have_count(1)
    page.route("**/observations", lambda route: route.fulfill(status=503, body="<p data-detail>no"))
    page.context.set_offline(False)
    refused = page.locator("#unsent .refused")
    expect(refused).to_contain_text("THE BENCH DOES NOT KNOW IT: The vessel is cracked")
    expect(refused.get_by_role("button")).to_have_text(["Send it again", "Drop it"])
    page.unroute("**/observations")
    refused.get_by_role("button", name="Send it again").click()
    expect(page.locator(".alarm.danger")).to_contain_text("the vessel is cracked")
    expect(page.locator("#unsent")).to_be_hidden()
