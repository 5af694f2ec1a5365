"""A photo over HTTP: posted, shown, in the record, withdrawn, backed up and verified."""

import asyncio
import io

from PIL import Image

from logger.service.verifying import verify
from logger.store.backup import back_up
from logger.store.photos import folder_of
from tests.support.warm_starts import done
from tests.support.web_bench import serving


def jpeg(colour=(200, 80, 20)):
    out = io.BytesIO()
    Image.new("RGB", (320, 240), colour).save(out, "JPEG")
    return out.getvalue()


async def post(bench, burn, raw, post_id="photo-0001", **fields):
    return await bench.client.post(
        f"/api/burns/{burn}/photos",
        data={"id": post_id, "by": "Ines", **fields},
        files={"photo": ("IMG_1.jpg", raw, "image/jpeg")},
    )


async def test_a_photo_from_post_to_backup(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        answer = await post(bench, burn, jpeg(), text="soot at 9 o'clock")
        assert answer.status_code == 201, answer.text
        assert answer.json()["text"] == "jar-a: photo: soot at 9 o'clock"
        again = await post(bench, burn, jpeg(), text="soot at 9 o'clock")
        assert (again.status_code, again.json()["new"]) == (200, False)
        (name,) = [one.stem for one in (tmp_path / "data" / "photos").iterdir()]

        shown = await bench.client.get(f"/photos/{name}")
        assert shown.headers["content-type"] == "image/jpeg"
        assert (await bench.client.get("/photos/..%2Fbench.sqlite3")).status_code == 404
        page = await bench.client.get("/")
        assert f'<img class="photo" src="/photos/{name}"' in page.text
        record = await bench.client.get(f"/burns/{burn}/record")
        assert "img-src data:" in record.headers["content-security-policy"]
        assert '<img src="data:image/jpeg;base64,' in record.text
        assert "soot at 9 o&#39;clock" in record.text
        assert "/photos/" not in record.text  # one file, nothing outside of it

        made = back_up(tmp_path / "data", tmp_path / "copy.sqlite3")
        assert made.photos == 1
        assert [one.stem for one in folder_of(made.path).iterdir()] == [name]
        assert verify(made.path).ok
        (folder_of(made.path) / f"{name}.jpg").unlink()
        report = verify(made.path)
        assert not report.ok
        assert "is not there" in next(o.text for o in report.items if o.what == "photos")

        withdrawn = await bench.post("/api/entries/photo-0001/withdraw", why="another jar")
        assert withdrawn.status_code == 201
        record = await bench.client.get(f"/burns/{burn}/record")
        assert "data:image/jpeg" not in record.text


async def test_what_is_no_photo_is_refused_and_records_nothing(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        for raw in (b"not a picture", b""):
            answer = await post(bench, burn, raw)
            assert answer.status_code == 422, answer.text
            assert answer.json()["detail"].startswith("photo: ")
        large = await post(bench, burn, bytes(26 * 2**20))
        assert "larger than 24 MB" in large.json()["detail"]
        bare = await bench.client.post(f"/api/burns/{burn}/photos", json={"id": "photo-0002"})
        assert "multipart/form-data" in bare.json()["detail"]
        unknown = await post(bench, "jar-z-1", jpeg())
        assert unknown.status_code == 409
        found = await bench.client.get(f"/api/burns/{burn}")
        assert [one["text"] for one in found.json()["entries"]] == ["lit, a burn of cedar-6"]


async def test_a_photo_by_command(tmp_path):
    file = tmp_path / "pool.jpg"
    file.write_bytes(jpeg())
    async with serving(tmp_path) as bench:
        burn = await bench.light()

        words = ("burn", "photo", "jar-a", str(file), "--text", "pool")
        config = str(bench.service.settings.path)
        ended = await asyncio.to_thread(done, "-m", "logger", *words, "--config", config)
        assert (ended.stdout, ended.stderr) == ("jar-a: photo: pool\n", "")
        found = await bench.client.get(f"/api/burns/{burn}")
        assert "photo: pool" in [one["text"] for one in found.json()["entries"]]
