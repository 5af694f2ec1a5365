"""`backup`, `verify`, `export` and `import` on the real service, while it runs and after."""

import json
import shutil

from logger.store.opening import FILE_NAME
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import until


def lit(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [41.25, -3.5], every_s=0.02)
    until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
    body = {"station": "jar-a", "trial": "marigold-6", "watched_by": "Ines"}
    status, answer = bench.post("/api/burns", **body)
    assert status == 201
    return answer["burn"]


def test_a_backup_of_the_running_bench_is_one_to_start_from(bench, tmp_path):
    burn = lit(bench)
    assert bench.post(f"/api/burns/{burn}/observations", text="a tall flame")[0] == 201
    assert bench.post(f"/api/burns/{burn}/out")[0] == 201
    file = tmp_path / "backup.sqlite3"
    made = bench.typed("backup", str(file))
    assert (made.returncode, made.stderr) == (0, "")
    assert "read again and intact" in made.stdout
    assert file.stat().st_mode & 0o777 == 0o600
    again = bench.typed("backup", str(file))
    assert (again.returncode, again.stderr.count("\n")) == (1, 1)
    assert "exists and was left as it is" in again.stderr
    for words in ((), (str(file),), (str(bench.data),)):
        done = bench.typed("verify", *words, "--json")
        assert done.returncode == 0, done.stdout
        assert json.loads(done.stdout)["ok"]
    bench.stop_writing()
    was = bench.get(f"/api/burns/{burn}")
    bench.kill()
    other = tmp_path / "other"
    (other / "data").mkdir(parents=True)
    shutil.copy(file, other / "data" / FILE_NAME)
    with BenchProcess(other, TWO_PROBES) as back:
        back.start()
        now = back.get(f"/api/burns/{burn}")
        assert back.now()["stations"][0]["burn"] == burn
    assert now["entries"] == was["entries"]
    # not what goes on being measured after the copy: the hottest place until the candle is cold
    assert {key: now[key] for key in ("lit", "out", "trial")} == {
        key: was[key] for key in ("lit", "out", "trial")
    }


def test_the_running_bench_is_exported_and_takes_no_import(bench, tmp_path):
    burn = lit(bench)
    done = bench.typed("export", "--burn", burn, "-o", str(tmp_path / "burn.csv"))
    assert done.returncode == 0, done.stderr
    rows = (tmp_path / "burn.csv").read_text().splitlines()
    assert rows[0] == "time,channel,value"
    assert {row.split(",", 1)[1] for row in rows[1:]} == {"jar-a-wall-3,41.25", "room,-3.5"}
    old = tmp_path / "old.csv"
    old.write_text("time,channel,value\n2025-05-04T09:00:00Z,room,75.5\n")
    done = bench.typed("import", str(old))
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "the bench's service runs" in done.stderr
    assert "once no candle burns, stop it" in done.stderr
    done = bench.typed("import", str(old), "--dry-run")
    assert "1 readings of 2025-05-04T09:00:00Z" in done.stdout
    assert "no curve shows them: for a curve" in done.stdout
    bench.stop_writing()
    assert bench.terminate() == 0
    done = bench.typed("import", str(old), "--json")
    assert json.loads(done.stdout)["imported"]
    assert not json.loads(bench.typed("import", str(old), "--json").stdout)["imported"]
    done = bench.typed("export", "--to", "2025-05-05")
    assert done.stdout == "time,channel,value\n2025-05-04T09:00:00.000000Z,room,75.5\n"
    bench.start()
    until(lambda: bench.now()["stations"][0]["burn"] == burn, "it goes on with its burn")
    assert not [one for one in bench.now()["alarms"] if one["rule"].startswith("wall")]


def test_what_is_wrong_is_one_line_and_an_exit_code(bench, tmp_path):
    lit(bench)
    bench.stop_writing()
    assert bench.terminate() == 0
    whole = (bench.data / FILE_NAME).read_bytes()
    (bench.data / FILE_NAME).write_bytes(whole[: len(whole) // 2])
    done = bench.typed("verify")
    assert (done.returncode, done.stderr) == (4, "")
    assert "FAULT" in done.stdout
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("time,channel,value\nsoon,room,1\n2025-05-04T09:00:00Z,lid,=1+1\n")
    for words, lines in (
        (("verify", str(tmp_path / "nothing")), 1),
        (("backup", str(tmp_path)), 1),
        (("import", str(wrong), "--dry-run"), 1),  # its own database is damaged: said first
        (("export",), 1),
    ):
        done = bench.typed(*words)
        assert (done.returncode, done.stderr.count("\n")) == (1, lines), done.stderr
    (bench.data / FILE_NAME).write_bytes(whole)
    done = bench.typed("import", str(wrong))
    assert (done.returncode, done.stderr.count("\n")) == (1, 2)
    for words in (("export", "--burn", "x", "--trial", "y"), ("export", "--from", "soon")):
        assert bench.typed(*words).returncode == 2
    assert "there is no burn x" in bench.typed("export", "--burn", "x").stderr
