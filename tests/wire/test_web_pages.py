"""The pages as a browser without scripts gets them: what they say, take, and refuse."""

import asyncio
import html
import re
import threading
from unittest.mock import Mock

import httpx
import pytest

from logger.burn.safety import CHECKS
from logger.errors import StoreError
from tests.support.waiting import patient
from tests.support.web_bench import ONE_STATION, START_S, WALL, listening, serving

HOSTILE = "<img src=x onerror=alert(1)>\"'&<b>"
TWO_STATIONS = ONE_STATION + '\n[[station]]\nname = "tin-b"\nmaterial = "metal"\n'


def words_of(answer: httpx.Response) -> str:
    """The text of a page without its markup, in one line."""
    text = re.sub(r"<(style|script|title)\b.*?</\1>|<[^>]+>", " ", answer.text, flags=re.DOTALL)
    return re.sub(r"\s+", " ", text)


def form_of(page: httpx.Response, action: str) -> dict[str, str]:
    """The hidden fields of the form that posts to `action`."""
    form = page.text.split(f'action="{action}"')[1].split("</form>")[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))


async def test_the_page_answers_how_hot_how_far_how_long_and_what_to_do(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light(tester="M6", watched_by="Ines")
        await bench.seconds(30, 41.0, 22.0)
        page = await bench.client.get("/")
        words = words_of(page)
        assert page.status_code == 200
        assert "41.0 °C" in words
        assert "wall, 60 mm, 3 o'clock" in words.replace("&#39;", "'")
        estimate = (await bench.now())["channels"][0]["estimate"]
        left_k = 60.0 - estimate["value"] - 2.0 * estimate["standard_uncertainty"]
        assert f"{left_k:.1f} °C left to limit" in words
        assert "3 h 59 min left" in words or "4 h left" in words
        assert "as last confirmed: recorded lit at" in words
        assert "Stay where you see the candle." in words
        assert "licensed test laboratory" in words


async def test_scripts_get_the_very_words_of_the_page(tmp_path):
    """The stream carries what stands there in the maker's unit, so that no script makes words."""
    fahrenheit = ONE_STATION.replace("data =", 'show = { temperature = "degF" }\ndata =')
    async with serving(tmp_path, fahrenheit) as bench:
        await bench.light()
        await bench.seconds(30, 41.0, 22.0)
        async with listening(bench) as stream:
            shown = await stream.until("shown")
        page = html.unescape((await bench.client.get("/")).text)
        hottest = (await bench.now())["stations"][0]["hottest_measured"]
    jar = shown["stations"]["jar-a"]
    assert jar["texts"]["hot-value"] == f"{hottest['value'] * 1.8 + 32.0:.1f} °F" == "105.8 °F"
    for field, text in jar["texts"].items():
        assert f'data-f="{field}">{text}<' in page
    assert f'transform="{jar["pointer"]}"' in page
    assert jar["places"].keys() == {WALL, "room"}
    for name, place in jar["places"].items():
        row = page.split(f'<tr data-place="{name}"')[1].split("</tr>")[0]
        assert f'data-state="{place["state"]}" data-level="{place["level"]}"' in row
        for field in ("value", "spread", "limit", "said"):
            assert f'data-f="{field}">{place["texts"][field]}<' in row


async def test_the_live_page_keeps_to_the_units_of_the_bench(tmp_path):
    shown = 'show = { temperature = "degF", length = "in", mass = "oz" }\ndata ='
    async with serving(tmp_path, ONE_STATION.replace("data =", shown)) as bench:
        burn = await bench.light(mass="18.8 oz", wax="7.7 oz")
        await bench.seconds(900, 55.0, 22.0)  # warms at once: alert, limit and rise-rate
        asked = await bench.post(
            f"/api/burns/{burn}/readings", values=[58.0], unit="degF", height="2.4 in"
        )
        assert "did you mean" in asked.json()["detail"]
        await bench.post(f"/api/burns/{burn}/out")
        await bench.seconds(900, 40.0, 22.0)
        weighed = await bench.post(f"/api/burns/{burn}/weigh-ins", mass="18.2 oz", sure=True)
        assert weighed.status_code == 201, weighed.text
        page = html.unescape((await bench.client.get("/")).text)
    said = re.sub(r"<(?:style|script|svg|select|input)\b.*?>", " ", page)
    text = re.sub(r"<[^>]*>", " ", said)
    units = re.findall(r"\d ?(°C|°F|mm|in|g|oz|K)(?![A-Za-z/])", text)
    assert {"°F", "in", "oz"} <= set(units)
    assert set(units) <= {"°F", "in", "oz"}


async def test_nothing_automatic_is_said_so(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light()
        assert "nothing will warn you" in words_of(await bench.client.get("/"))
        await bench.seconds(30, 41.0)
        assert "nothing will warn you" not in words_of(await bench.client.get("/"))
        await bench.seconds(60)  # all probes silent: the same again
        silent = words_of(await bench.client.get("/"))
        assert "nothing will warn you" in silent
        assert "no place on the vessel gives a reading now" in silent
        assert "41.0 °C" not in silent


async def test_headers_let_nothing_in_from_outside(tmp_path):
    async with serving(tmp_path) as bench:
        page = await bench.client.get("/")
        policy = page.headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert page.headers["x-content-type-options"] == "nosniff"
        assert "origin" in page.headers["referrer-policy"]
        assert not re.findall(r"\bstyle=|\bon[a-z]+=|<script(?![^>]* src=)", page.text)
        addresses = re.findall(r'(?:src|href|action)="([^"]*)"', page.text)
        assert addresses
        assert all(not one or one[0] in "/#" for one in addresses)


async def test_what_people_write_never_becomes_markup(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light(trial=HOSTILE, tester=HOSTILE, watched_by=HOSTILE)
        await bench.post(f"/api/burns/{burn}/observations", emergency="other", text=HOSTILE)
        await bench.seconds(20, 70.0)
        alarms = (await bench.now())["alarms"]
        await bench.post(f"/api/alarms/{alarms[0]['alarm']}/acknowledge", by=HOSTILE)
        page = await bench.client.get("/")
        assert page.text.count("&lt;img src=x onerror=alert(1)&gt;") >= 4
        assert "<img src=x" not in page.text
        await bench.service.recorder.saved()
        curve = await bench.client.get("/api/curve?station=jar-a&width=360")
        assert curve.headers["content-type"] == "image/svg+xml"
        assert "<img" not in curve.text


async def test_a_whole_burn_by_forms(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(12, 41.0)
        client, own = bench.client, {"origin": bench.service.url}

        async def send(action: str, **fields) -> httpx.Response:
            page = await client.get("/")
            return await client.post(
                action, data={**form_of(page, action), "at": "now", **fields}, headers=own
            )

        lit = await send(
            "/stations/jar-a/lit",
            trial="cedar-6",
            checks=["tray", "clear", "vessel", "room", "lid", "watcher", "fan off"],
            mass="532,4",
            wax="220",
        )
        assert (lit.status_code, lit.headers["location"]) == (303, "/")
        reading = await send(
            "/stations/jar-a/readings",
            values="41,2 41.6; 41.4",
            unit="degC",
            place="wall",
            height="80",
            clock="9",
        )
        assert reading.status_code == 303, reading.text
        note = await send("/stations/jar-a/observations", text="no soot", by="Ines")
        assert note.status_code == 303
        assert (await send("/stations/jar-a/in-sight")).status_code == 303
        by_hand = (await bench.now())["channels"][-1]
        assert (by_hand["height_mm"], by_hand["clock"]) == (80.0, 9)
        assert by_hand["estimate"]["value"] == pytest.approx(41.4, abs=0.01)
        assert "by hand" in words_of(await client.get("/"))
        await bench.seconds(20, 63.0)
        acknowledged = await send("/alarms/acknowledge", by="Ines")
        assert acknowledged.status_code == 303
        assert "acknowledged by Ines (page) at" in words_of(await client.get("/"))
        assert (await send("/stations/jar-a/out")).status_code == 303
        assert (await bench.now())["stations"][0]["state"] == "cooling"
        warm = await send("/stations/jar-a/weigh-ins", mass="531.9", by="Ines")
        assert warm.status_code == 409
        assert "do not lift it warm" in warm.text
        weighed = await send("/stations/jar-a/weigh-ins", mass="531.9", by="Ines", sure="true")
        assert weighed.status_code == 303, weighed.text
        await bench.service.recorder.saved()
        record = words_of(await client.get(f"/burns/jar-a-{int(START_S) + 12}/record"))
        assert "heat-proof tray that holds all the wax" in record
        assert "fan off" in record
        assert "no soot" in record
        assert "532.4 g before, 531.9 g after: 0.5 g of wax used" in record
        page = html.unescape(words_of(await client.get("/")))
        assert "Counts as burn 1 of this candle: no, it burned for" in page
        assert (
            "the lower 60 mm at 3 and 9 o'clock; the height up to 80 mm at 12 and 6 o'clock" in page
        )
        assert "532.4 g before, 531.9 g after: 0.5 g of wax used" in page


async def test_a_cold_candle_that_was_weighed_is_to_be_weighed_again(tmp_path):
    quick = ONE_STATION.replace("[limits.glass]", '[limits]\ncool_down = "1 min"\n[limits.glass]')
    async with serving(tmp_path, quick) as bench:
        burn = await bench.light(mass="532 g")
        await bench.seconds(5, 24.0, 22.0)
        await bench.post(f"/api/burns/{burn}/out")
        await bench.seconds(30, 24.0, 22.0)
        assert "weigh it" not in words_of(await bench.client.get("/"))
        await bench.seconds(40, 24.0, 22.0)
        assert "If glass and wax are cold, weigh it" in words_of(await bench.client.get("/"))
        await bench.post(f"/api/burns/{burn}/weigh-ins", mass="531 g")
        assert "are cold, weigh it" not in words_of(await bench.client.get("/"))


async def test_a_form_sent_twice_counts_once(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light()
        fields = {**form_of(await bench.client.get("/"), "/stations/jar-a/out"), "at": "now"}
        both = [
            await bench.client.post("/stations/jar-a/out", data=fields)
            for _ in range(2)  # a finger that slips, or the browser's reload
        ]
        assert [one.status_code for one in both] == [303, 303]


@pytest.mark.parametrize(
    ("action", "fields", "status", "words"),
    [
        pytest.param("lit", {"trial": ""}, 422, "trial", id="no trial"),
        pytest.param("lit", {"trial": "t", "at": "soon"}, 422, "soon", id="no time"),
        pytest.param("readings", {"values": "41.x", "height": "60"}, 422, "41.x", id="no number"),
        pytest.param("readings", {"values": "nan", "height": "60"}, 422, "nan", id="nan"),
        pytest.param("readings", {"values": "41"}, 422, "height", id="no height"),
        pytest.param(
            "weigh-ins", {"mass": "x", "mass_unit": "g"}, 422, "not a number", id="no mass"
        ),
        pytest.param("weigh-ins", {"mass": "5", "mass_unit": "g"}, 409, "cold", id="it burns"),
        pytest.param("observations", {"text": " "}, 422, "write what was seen", id="empty note"),
        pytest.param("out", {"burn": "jar-a-1"}, 409, "load it again", id="an old page"),
        pytest.param("observations", {"text": "x" * 70_000}, 422, "longer", id="too long"),
    ],
)
async def test_a_form_that_cannot_be_is_said_in_words(tmp_path, action, fields, status, words):
    async with serving(tmp_path) as bench:
        burn = None if action == "lit" else await bench.light()
        await bench.seconds(1)
        sent = {"id": "form-0001", **({"burn": burn} if burn else {}), **fields}
        answer = await bench.client.post(f"/stations/jar-a/{action}", data=sent)
        assert answer.status_code == status
        assert answer.headers["content-type"].startswith("text/html")
        assert words in words_of(answer)
        assert "Nothing was recorded" in words_of(answer)


async def test_an_improbable_reading_has_a_second_button(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light()
        page = await bench.client.get("/")
        action = "/stations/jar-a/readings"
        typed = {**form_of(page, action), "at": "now", "values": "134 133", "height": "60"}
        asked = await bench.client.post(action, data=typed)
        assert asked.status_code == 409
        assert "did you mean 133.5 °F?" in words_of(asked)
        assert "Nothing was recorded" in words_of(asked)
        again = form_of(asked, action)
        assert again["values"] == "134 133"
        assert 'name="sure" value="true">Keep it as it is' in asked.text
        kept = await bench.client.post(action, data={**again, "sure": "true"})
        assert kept.status_code == 303
        assert "133.5 °C" in words_of(await bench.client.get("/"))


async def test_a_form_from_elsewhere_is_refused(tmp_path):
    async with serving(tmp_path) as bench:
        for origin in ("http://elsewhere.example", "null"):
            answer = await bench.client.post(
                "/stations/jar-a/lit",
                data={"id": "form-0001", "trial": "t"},
                headers={"origin": origin},
            )
            assert answer.status_code == 403
        assert (await bench.now())["stations"][0]["burn"] is None


async def test_an_error_shows_a_page_to_a_browser(tmp_path, monkeypatch):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        browser = {"accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
        for path, title, says in (
            ("/buns", "No such page", "The bench has no page at this address"),
            ("/stations/none", "Not here", "The bench has no station of that name"),
            ("/burns/77", "Not here", "There is no burn 77"),
            ("/trials/none", "Not here", "none"),
        ):
            shown = await bench.client.get(path, headers=browser)
            assert shown.status_code == 404
            assert shown.headers["content-type"].startswith("text/html"), path
            assert '<html lang="en">' in shown.text
            assert f"<title>{title}, " in shown.text
            assert '<a class="button" href="/">To the bench</a>' in shown.text
            assert says in words_of(shown)
            document = (await bench.client.get(path)).headers["content-type"]
            assert document == "application/problem+json"
        for path in ("/api/nothing", "/static/nothing", "/api/burns/77"):
            document = (await bench.client.get(path, headers=browser)).headers["content-type"]
            assert document == "application/problem+json"
        failing = Mock(side_effect=ZeroDivisionError)
        monkeypatch.setattr("logger.web.burn_pages.wanted_burns", failing)
        for path, kind in (("/burns", "text/html"), ("/api/burns", "application/problem+json")):
            ours = await bench.client.get(path, headers=browser)
            assert (ours.status_code, "a fault of this program" in ours.text.lower()) == (500, True)
            assert ("<title>The program failed, " in ours.text) is (kind == "text/html")
            assert ours.headers["content-type"].startswith(kind)
        wrong = await bench.client.post("/plan", headers=browser)
        assert (wrong.status_code, "GET" in wrong.headers["allow"]) == (405, True)
        assert "This cannot be done here" in words_of(wrong)


async def test_several_stations_have_a_page_each(tmp_path):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        await bench.seconds(12, 41.0)
        words = words_of(await bench.client.get("/"))
        assert "jar-a" in words
        assert "tin-b" in words
        tin = await bench.client.get("/stations/tin-b")
        assert "nothing will warn you" in words_of(tin)
        assert "41.0 °C" not in words_of(tin)
        fields = {**form_of(tin, "/stations/tin-b/lit"), "trial": "tin-2"}
        lit = await bench.client.post("/stations/tin-b/lit", data=fields)
        assert lit.headers["location"] == "/stations/tin-b"
        assert (await bench.client.get("/stations/none")).status_code == 404
        assert (await bench.client.post("/stations/tin-b/eat", data={})).status_code == 404
        # the way back is never an address that somebody else wrote
        back = await bench.client.post(
            "/alarms/acknowledge", data={"id": "form-0001", "station": "/elsewhere.example"}
        )
        assert back.headers["location"] == "/"


async def test_files_are_compared_and_nothing_else_is_handed_out(tmp_path):
    async with serving(tmp_path) as bench:
        for name in ("bench.css", "curve.css", "page.js", "icon.svg"):
            first = await bench.client.get(f"/static/{name}")
            assert first.status_code == 200
            assert first.headers["x-content-type-options"] == "nosniff"
            again = await bench.client.get(
                f"/static/{name}", headers={"if-none-match": first.headers["etag"]}
            )
            assert (again.status_code, again.content) == (304, b"")
        for name in ("../station.html", "%2e%2e%2fstation.html", "station.html", "__init__.py"):
            assert (await bench.client.get(f"/static/{name}")).status_code == 404


async def test_pages_that_ask_together_share_a_curve(tmp_path):
    drawn = []
    async with serving(tmp_path) as bench:
        missing = await bench.client.get("/api/curve?station=jar-a")
        assert missing.status_code == 409
        assert "no burn" in missing.json()["detail"]
        await bench.light()
        await bench.seconds(30, 41.0)
        await bench.service.recorder.saved()
        draw = type(bench.service).curve_svg
        counted = lambda service, *words: drawn.append(words) or draw(service, *words)  # noqa: E731
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(type(bench.service), "curve_svg", counted)
            ask = "/api/curve?station=jar-a&width="
            answers = await asyncio.gather(
                *(bench.client.get(f"{ask}{width}") for width in (358, 358, 350, 345, 358))
            )
            assert {one.status_code for one in answers} == {200}
            assert len(drawn) == 1
            before = answers[0].text
            await bench.seconds(15, 46.0)
            await bench.service.recorder.saved()
            assert (await bench.client.get(f"{ask}358")).text != before
            assert len(drawn) == 2
        for width in ("-3", "wide", "1e3", "9999999"):
            assert (await bench.client.get(f"{ask}{width}")).status_code == 422


async def test_checks_left_out_are_listed_in_full(tmp_path):
    async with serving(tmp_path) as bench:
        first, *rest = CHECKS.values()
        await bench.post("/api/burns", station="jar-a", trial="cedar-6", checks=[first])
        await bench.seconds(2)
        page = html.unescape((await bench.client.get("/stations/jar-a")).text)
        listed = page.partition("Not confirmed before lighting")[2].partition("</ul>")[0]
        assert all(one in listed for one in rest)
        assert first not in listed
        assert "and 4 more checks" in page


async def test_the_page_opens_whatever_becomes_of_reading_the_last_burn(tmp_path, monkeypatch):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        await bench.seconds(5, 40.0)
        await bench.post(f"/api/burns/{burn}/out")
        for fault in (RuntimeError("a bug"), StoreError("a damaged disk")):
            monkeypatch.setattr(type(bench.service), "burn_message", Mock(side_effect=fault))
            page = await bench.client.get("/")
            assert page.status_code == 200
            assert "The last burn" not in words_of(page)
        hangs = threading.Event()
        monkeypatch.setattr(type(bench.service), "burn_message", lambda *_: hangs.wait(20.0))
        try:
            page = await asyncio.wait_for(bench.client.get("/"), timeout=patient(10.0))
            assert page.status_code == 200
        finally:
            hangs.set()


async def test_the_manual_is_read_on_the_page(tmp_path):
    async with serving(tmp_path) as bench:
        contents = await bench.client.get("/manual")
        assert 'href="/manual/phone"' in contents.text
        alarms = await bench.client.get("/manual/alarms")
        assert "<td><code>burn-ending</code>" in alarms.text
        instruments = (await bench.client.get("/manual/instruments")).text
        assert 'href="/manual/bluetooth"' in instruments
        assert ".md" not in instruments  # links lead to pages, files of the repository to none
        missing = await bench.client.get("/manual/telephone")
        assert missing.status_code == 404
        assert "phone" in missing.text


@pytest.mark.parametrize(
    "path", ["/", "/stations/jar-a", "/light", "/round", "/burns", "/burns/1", "/shelf",
             "/shelf/vessels", "/manual", "/manual/alarms"],
)  # fmt: skip
async def test_an_emergency_is_within_reach_on_every_page(tmp_path, path):
    async with serving(tmp_path) as bench:
        await bench.light()
        page = (await bench.client.get(path)).text
        assert '<a class="emergency" href="#emergency">' in page
        advice = html.unescape(page.partition('id="emergency"')[2])
        assert "call the fire service" in advice
