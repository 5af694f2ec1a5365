"""Who gets in: nobody foreign here, beyond this machine only who has the token; strict headers."""

import base64
import hashlib
import re
import socket
from contextlib import asynccontextmanager
from http.cookies import SimpleCookie

import pytest

from logger.errors import StoreError, WickbenchError
from logger.settings import WebSettings
from logger.web import api, pages, server, tokens
from logger.web.posted import LONGEST_BODY
from tests.support.web_bench import ONE_STATION, client_of, serving

OPEN = ONE_STATION.replace("127.0.0.1:0", "0.0.0.0:0")
EVERYWHERE = ("/", "/stations/jar-a", "/api/now", "/api/live", "/api/openapi.json",
              "/static/page.js", "/healthz", "/burns/x/record", "/nothing", "/enter")  # fmt: skip


@asynccontextmanager
async def open_bench(folder):
    """A bench that listens everywhere, and its token."""
    async with serving(folder, OPEN) as bench:
        yield bench, (folder / "data" / tokens.NAME).read_text().strip()


def bearer(token):
    return {"authorization": f"Bearer {token}"}


def problem(answer, status):
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["status"] == status
    return answer.json()["detail"]


async def test_this_machine_alone_needs_no_token_and_none_is_made(tmp_path):
    async with serving(tmp_path) as bench:
        assert (await bench.client.get("/")).status_code == 200
        problem(await bench.client.get("/enter?token=x"), 404)
        assert not (tmp_path / "data" / tokens.NAME).exists()


@pytest.mark.parametrize("path", EVERYWHERE)
async def test_without_the_token_nothing_is_told(tmp_path, path):
    async with open_bench(tmp_path) as (bench, _):
        answer = await bench.client.get(path)
        problem(answer, 401)
        assert answer.headers["www-authenticate"].startswith("Bearer")
        assert "set-cookie" not in answer.headers
        assert "jar-a" not in answer.text


async def test_without_the_token_nothing_is_entered(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        problem(await bench.post("/api/burns", station="jar-a", trial="t"), 401)
        form = {"id": "from-a-form", "trial": "t"}
        problem(await bench.client.post("/stations/jar-a/lit", data=form), 401)
        now = (await bench.client.get("/api/now", headers=bearer(token))).json()
        assert now["stations"][0]["burn"] is None


async def test_the_link_leaves_a_cookie_and_no_token_in_the_address_bar(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        answer = await bench.client.get("/enter", params={"token": token})
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cache-control"] == "no-store"
        assert token not in answer.text
        (cookie,) = SimpleCookie(answer.headers["set-cookie"]).values()
        assert cookie.value == token
        assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "strict", "/")
        assert cookie["domain"] == ""
        for path in ("/", "/api/now", "/static/page.js"):  # the client keeps cookies
            again = await bench.client.get(path)
            assert again.status_code == 200
            assert token not in again.text
        assert (await bench.client.get("/enter")).status_code == 303


async def test_programs_show_it_as_a_bearer(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        assert (await bench.client.get("/api/now", headers=bearer(token))).status_code == 200
        for wrong in (
            f"Basic {token}",
            token,
            "Bearer",
            f"Bearer {token}x",
            f"Bearer {token[:-1]}",
        ):
            answer = await bench.client.get("/api/now", headers={"authorization": wrong})
            problem(answer, 401)
        problem(await bench.client.get("/api/now", params={"token": token}), 401)


async def test_a_person_without_the_link_gets_a_page_that_says_so_and_takes_the_key(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        person = {"accept": "text/html,*/*"}
        for path in ("/", "/enter?token=of-last-year"):
            answer = await bench.client.get(path, headers=person)
            assert answer.status_code == 401
            assert answer.headers["content-type"].startswith("text/html")
            assert "wickbench run" in answer.text
            style = re.search(r"<style>(.*)</style>", answer.text, re.S)[1]
            digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
            assert f"'sha256-{digest}'" in answer.headers["content-security-policy"]
            assert re.search(r'<form action="/enter">\s*<label>.*<input name="token"', answer.text)
        assert "no longer" in answer.text  # the key of last year
        pasted = await bench.client.get("/enter", params={"token": f" {token}\n"}, headers=person)
        assert pasted.status_code == 303


async def test_others_wrong_tokens_lock_nobody_out(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        for number in range(200):
            wrong = await bench.client.get("/enter", params={"token": f"guess{number}"})
            problem(wrong, 401)
        assert (await bench.client.get("/api/now", headers=bearer(token))).status_code == 200
        cookie = {"cookie": f"wickbench-{bench.port}={token}"}
        assert (await bench.client.get("/api/now", headers=cookie)).status_code == 200
        assert (await bench.client.get("/enter", params={"token": token})).status_code == 303


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "bench.example"},
        {"host": "127.0.0.1:1"},
        {"host": "192.0.2.99:{port}"},
        {"host": "me@127.0.0.1:{port}"},
        {"host": "127.0.0.1:{port}/x"},
        {"host": "[:{port}"},
        {"host": "127.0.0.1:x"},
        {"origin": "http://elsewhere.example"},
        {"origin": "http://localhost:{port}"},  # own, but not the page's that was asked
        {"origin": "https://127.0.0.1:{port}"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"x-forwarded-for": "192.0.2.7"},
        {"via": "1.1 proxy"},
    ],
    ids=lambda headers: " ".join(f"{k}={v}" for k, v in headers.items()),
)
async def test_the_token_does_not_help_who_comes_from_elsewhere(tmp_path, headers):
    async with open_bench(tmp_path) as (bench, token):
        sent = {name: value.format(port=bench.port) for name, value in headers.items()}
        problem(await bench.client.get("/api/now", headers={**bearer(token), **sent}), 403)


async def test_a_link_in_a_mail_opens_the_bench(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        mail = {"sec-fetch-site": "cross-site", "accept": "text/html"}
        first = await bench.client.get("/enter", params={"token": token}, headers=mail)
        assert first.status_code == 303
        # Browsers call the step that follows cross-site still, and keep a strict cookie back.
        bench.client.cookies.clear()
        landed = await bench.client.get("/", headers=mail)
        assert landed.status_code == 403
        assert '<a href="/">' in landed.text


async def test_it_answers_to_the_names_of_this_machine(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        name = socket.gethostname()
        for host in (
            "localhost",
            name,
            name.upper(),
            name + ".",
            f"{name.partition('.')[0]}.local",
        ):
            headers = {**bearer(token), "host": f"{host}:{bench.port}"}
            headers["origin"] = f"http://{host}:{bench.port}"
            assert (await bench.client.get("/api/now", headers=headers)).status_code == 200, host


async def test_it_answers_at_every_address_that_it_is_reached_by(tmp_path):
    async with open_bench(tmp_path) as (bench, token):
        url = f"http://127.0.0.3:{bench.port}"
        async with client_of(url) as client:
            assert (await client.get("/api/now", headers=bearer(token))).status_code == 200


async def test_ipv6_any_serves_both(tmp_path):
    try:
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
    except OSError:
        pytest.skip("this machine has no IPv6")
    async with serving(tmp_path, OPEN.replace("0.0.0.0:0", "[::]:0")) as bench:
        token = (tmp_path / "data" / tokens.NAME).read_text().strip()
        for url in (f"http://[::1]:{bench.port}", f"http://127.0.0.1:{bench.port}"):
            async with client_of(url) as client:
                problem(await client.get("/api/now"), 401)
                assert (await client.get("/api/now", headers=bearer(token))).status_code == 200


def test_an_address_that_cannot_be_is_said_in_one_line():
    for host in ("192.0.2.1", "not..a..name", "bänk..example"):
        with pytest.raises(WickbenchError, match="cannot be taken"):
            server.listen(WebSettings(listen=f"{host}:0"))


def test_the_token_is_made_once_and_anew_when_its_file_is_deleted(tmp_path):
    first = tokens.of(tmp_path).reveal()
    path = tmp_path / tokens.NAME
    assert path.stat().st_mode & 0o777 == 0o600
    assert re.fullmatch(r"[\w-]{43}\n", path.read_text())
    assert tokens.of(tmp_path).reveal() == first == tokens.known(tmp_path).reveal()
    path.unlink()
    assert tokens.known(tmp_path) is None
    assert tokens.of(tmp_path).reveal() != first
    assert [one.name for one in tmp_path.iterdir()] == [tokens.NAME]


def test_a_start_that_was_cut_off_leaves_nothing_in_the_way(tmp_path):
    (tmp_path / tokens.NAME).with_suffix(".new").write_text("half a tok")
    assert len(tokens.of(tmp_path).reveal()) == 43


@pytest.mark.parametrize("text", ["", "short\n", "ä" * 43, "x" * 43 + "\nand more\n", "y" * 5000])
def test_a_file_that_holds_no_token_opens_nothing(tmp_path, text):
    (tmp_path / tokens.NAME).write_text(text)
    (tmp_path / tokens.NAME).chmod(0o600)
    with pytest.raises(StoreError, match="delete it"):
        tokens.of(tmp_path)
    assert tokens.known(tmp_path) is None


def test_a_file_that_others_may_read_is_refused(tmp_path):
    token = tokens.of(tmp_path).reveal()
    for mode in (0o640, 0o604):
        (tmp_path / tokens.NAME).chmod(mode)
        with pytest.raises(StoreError, match="read by others") as refused:
            tokens.of(tmp_path)
        assert token not in str(refused.value)


def test_a_link_in_the_place_of_the_file_is_not_followed(tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("x" * 43)
    elsewhere.chmod(0o600)
    (tmp_path / tokens.NAME).symlink_to(elsewhere)
    with pytest.raises(StoreError):
        tokens.of(tmp_path)


def assert_strict(answer):
    headers = answer.headers
    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] in ("'self'", "'none'")
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "script-src" not in policy  # nothing loosens what the default allows
    assert headers["x-content-type-options"] == "nosniff"
    # "same-origin" on pages: with "no-referrer" browsers post their forms as from nowhere.
    assert headers["referrer-policy"] in ("no-referrer", "same-origin")
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cache-control"] in ("no-store", "no-cache")


async def test_every_answer_carries_strict_headers(tmp_path, monkeypatch):
    async with serving(tmp_path) as bench:
        await bench.seconds(2, 41.0)
        burn = await bench.light()
        await bench.service.recorder.saved()
        for path in ("/", "/stations/jar-a", "/api/now", "/api/openapi.json", "/static/page.js",
                     "/healthz", f"/burns/{burn}/record", f"/api/burns/{burn}",
                     "/api/curve?station=jar-a"):  # fmt: skip
            answer = await bench.client.get(path)
            assert answer.status_code == 200, path
            assert_strict(answer)
        assert_strict(await bench.client.get("/nothing"))
        assert_strict(await bench.client.delete("/api/now"))
        assert_strict(await bench.client.get("/", headers={"host": "elsewhere.example"}))
        assert_strict(await bench.post("/api/burns", station="jar-a"))
        async with bench.client.stream("GET", "/api/live") as stream:
            assert_strict(stream)

        def fails(_bench):
            raise RuntimeError("a fault of ours")

        monkeypatch.setattr(api, "now_message", fails)
        answer = await bench.client.get("/api/now")
        assert "log" in problem(answer, 500)
        assert "a fault of ours" not in answer.text
        assert_strict(answer)


async def test_the_record_may_load_run_and_send_nothing(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        answer = await bench.client.get(f"/burns/{burn}/record")
        assert "default-src 'none'" in answer.headers["content-security-policy"]


POSTS = sorted(
    route.path for route in (*pages.ROUTES, *api.ROUTES) if "POST" in (route.methods or ())
)


@pytest.mark.parametrize("path", POSTS)
async def test_no_body_is_longer_than_anybody_types(tmp_path, path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        ids = {"id:path": "silent/room", "id": burn, "station": "jar-a"}
        what = "acknowledge" if path.startswith("/alarms") else "observations"
        what = "correct" if "/entries/" in path else what
        for name, value in {**ids, "what": what}.items():
            path = path.replace(f"{{{name}}}", value)
        before = (await bench.now())["stations"]

        async def endless():
            for _ in range(200):
                yield b"x" * 8192

        for body in (b"x" * (LONGEST_BODY + 1), endless()):
            answer = await bench.client.post(path, content=body)
            assert answer.status_code == 422
            assert str(LONGEST_BODY) in answer.text
        assert (await bench.now())["stations"] == before
