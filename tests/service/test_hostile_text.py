"""What people and instruments write stays text: no markup, SQL, path, terminal escape, log line."""

import json
import re
import urllib.error
import urllib.parse
import urllib.request

import pytest

from logger.messages import one_line
from logger.store.queries import open_read
from tests.support.waiting import patient, until

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'&{{7*7}}{% raw %}"
SQL = "'; DROP TABLE readings; --"
ESCAPES = "\x1b]0;owned\x07\x1b[2J\x9b31m"
LINES = "one\r\nERROR forged: two\u2028WARNING forged: three"
PATH = "../../../../etc/passwd\x00.html"
TURNED = "\u202egnp.exe"
HOSTILE = (MARKUP, SQL, ESCAPES, LINES, PATH, TURNED)


def page(bench, path):
    with urllib.request.urlopen(bench.address + path, timeout=patient(20)) as answer:
        return answer.read().decode()


def assert_no_markup(text):
    """Neither elements nor attributes nor templates came out of the hostile text."""
    assert "<script>alert" not in text
    assert "<img src=x" not in text
    assert "onerror" not in re.sub(r"&lt;img.*?&gt;", "", text)


def assert_plain(text):
    """Nothing that steers a terminal but the bell, nothing forged at the start of a line."""
    for line in text.splitlines():
        assert line.replace("\a", "").isprintable(), ascii(line)
        assert not re.match(r"(ERROR|WARNING) forged", line), line
    for sign in "\r\x1b\x9b\x85\u2028\u202e\x0b\x0c":
        assert sign not in text


def test_what_people_type_stays_text(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [58.0, 22.0])
    until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
    files = {path.name for path in bench.folder.iterdir()}
    lit = {"trial": MARKUP, "tester": SQL, "watched_by": MARKUP, "checks": HOSTILE}
    status, answer = bench.post("/api/burns", station="jar-a", by=LINES, **lit)
    assert status == 201, answer
    burn = answer["burn"]
    until(lambda: bench.alarm("wall-alert/jar-a-wall-3"), "an alarm to acknowledge")
    for text in HOSTILE:
        for what, body in {"observations": {"text": text}, "in-sight": {}}.items():
            status, answer = bench.post(f"/api/burns/{burn}/{what}", by=text, **body)
            assert status == 201, answer
    alarm = "/api/alarms/wall-alert/jar-a-wall-3/acknowledge"
    status, answer = bench.post(alarm, by=ESCAPES + MARKUP, where=LINES)
    assert status == 201, answer
    now = bench.now()
    assert now["stations"][0]["trial"] == MARKUP
    seen = next(one for one in now["alarms"] if one["rule"] == "wall-alert")
    assert seen["acknowledged_by"] == one_line(ESCAPES + MARKUP)  # no escapes left
    stored = bench.get(f"/api/burns/{burn}")
    assert (stored["trial"], stored["tester"]) == (MARKUP, SQL)
    for path in ("/", f"/burns/{burn}/record"):
        shown = page(bench, path)
        assert_no_markup(shown)
        assert all(line.isprintable() for line in shown.split("\n"))
        assert "&lt;script&gt;alert(1)" in shown
        assert "{{7*7}}" in shown  # text, not a template
    for words in (("burn", "note", "jar-a", ESCAPES + LINES), ("burn", "out", "jar-a")):
        done = bench.typed(*words)
        assert done.returncode == 0, done.stderr
        assert_plain(done.stdout + done.stderr)
    assert bench.terminate() == 0
    log = bench.log.read_text()
    assert_plain(log)
    assert "ERROR forged: two" in log  # it was said, within a line
    assert {path.name for path in bench.folder.iterdir()} == files
    with open_read(bench.data) as reader:
        assert len(list(reader.readings("jar-a-wall-3", 0.0, None))) > 0


def test_what_is_asked_for_is_looked_up_and_never_opened(bench):
    bench.start()
    for text in HOSTILE:
        quoted = urllib.parse.quote(text, safe="")
        for path in (
            f"/api/burns/{quoted}",
            f"/api/trials/{quoted}/verdict",
            f"/api/series?channel={quoted}",
            f"/api/curve?station={quoted}",
            f"/burns/{quoted}/record",
            f"/static/{quoted}",
            f"/stations/{quoted}",
        ):
            with pytest.raises(urllib.error.HTTPError) as refused:
                page(bench, path)
            assert refused.value.code in (404, 405, 409, 422), path
            answer = refused.value.read().decode()
            assert "root:" not in answer
            assert json.loads(answer)["status"] == refused.value.code
    assert bench.terminate() == 0
    assert_plain(bench.log.read_text())


def test_what_an_instrument_sends_stays_text(bench):
    bench.start()
    bench.opened()
    until(lambda: bench.now()["instruments"][0]["state"] != "down", "the port is open")
    for text in HOSTILE:
        bench.port.send_raw(text.encode() + b",1.0\n41.0," + text.encode() + b"\n")
    until(
        lambda: (
            sum(one["count"] for one in bench.now()["instruments"][0]["refused"])
            >= 2 * len(HOSTILE)
        ),
        "what cannot be read is counted",
    )
    instrument = json.dumps(bench.now()["instruments"], ensure_ascii=False)
    assert instrument.isprintable()
    shown = page(bench, "/")
    assert_no_markup(shown)
    done = bench.typed("check")
    assert_plain(done.stdout + done.stderr)
    assert bench.terminate() == 0
    assert_plain(bench.log.read_text())
