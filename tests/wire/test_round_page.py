"""The reading round as a browser without scripts gets it."""

import html
import re

from tests.support.web_bench import ONE_STATION, serving

IN_F = ONE_STATION.replace("data =", 'show = { temperature = "degF", length = "in" }\ndata =')
BY_HAND = IN_F.partition("[[instrument]]")[0] + '[web]\nlisten = "127.0.0.1:0"\n'


def hidden(page: str, key: str) -> dict[str, str]:
    """The hidden fields of the form of one place."""
    form = page.split(f'id="{key}"')[1].split("</form>", maxsplit=1)[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))


async def test_a_round_in_the_maker_s_units(tmp_path):
    async with serving(tmp_path, BY_HAND) as bench:
        await bench.light()
        await bench.seconds(1)
        client = bench.client
        await bench.post("/api/thermometers", name="ir-1", sensing="infrared", emissivity_set=0.95)
        round_ = {"places": "left, rim", "height": "2 in", "finish": "bare-glass"}
        await bench.post("/api/rounds", name="jar-a", thermometer="ir-1", **round_)
        page = (await client.get("/round")).text
        fields = hidden(page, "jar-a-1")
        assert fields["unit"] == "degF"
        assert (fields["height"], fields["height_unit"], fields["clock"]) == ("2", "in", "9")
        assert (fields["emissivity"], fields["emissivity_set"]) == ("0.92", "0.95")
        assert fields["back"] == "/round#jar-a-2"
        sent = await client.post(
            "/stations/jar-a/readings", data={**fields, "values": ["104,2", "104.6", ""]}
        )
        assert (sent.status_code, sent.headers["location"]) == (303, "/round#jar-a-2")
        text = html.unescape((await client.get("/round")).text)
        result = text.split('id="jar-a-1"')[1].split("<form")[0]
        # a grey surface, room behind: 0.95 (T_set^4 - T_0^4) = 0.92 (T^4 - T_0^4), from memory
        value_f = float(re.search(r"<b>([\d.]+) °F ± ", result)[1])
        assert 104.4 < value_f < 107.0
        assert "average of 2" in result
        assert "doubtful: fewer than 3 values count" in result
        assert hidden(page, "jar-a-2")["back"] == "/round#done"


async def test_a_form_leads_back_to_no_other_place(tmp_path):
    async with serving(tmp_path, BY_HAND) as bench:
        burn = await bench.light()
        for number, back in enumerate(("https://example.org/round", "//example.org", "/round/x")):
            form = {"id": f"leads-back-{number}", "burn": burn, "values": "41", "place": "rim"}
            sent = await bench.client.post("/stations/jar-a/readings", data={**form, "back": back})
            assert (sent.status_code, sent.headers["location"]) == (303, "/")


async def test_without_named_places_those_that_were_read_are_read_again(tmp_path):
    async with serving(tmp_path, BY_HAND) as bench:
        burn = await bench.light()
        await bench.seconds(1)
        empty = (await bench.client.get("/round")).text
        assert "No place to read is named yet" in empty
        assert "/shelf/rounds?name=jar-a" in empty
        await bench.post(
            f"/api/burns/{burn}/readings", values=[41, 41, 41], height="40 mm", clock=9
        )
        page = html.unescape((await bench.client.get("/round")).text)
        assert "jar-a: wall, 1.6 in, 9 o'clock" in page
        await bench.post(f"/api/burns/{burn}/out")
        await bench.seconds(1)
        assert "nothing to read" in (await bench.client.get("/round")).text
