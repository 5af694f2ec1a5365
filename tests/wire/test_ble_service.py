"""A bench with a Bluetooth probe, whole: page, notice and record tell how its link does."""

import re

from simulators.bluetooth_sensors import TEMPERATURE, environmental_sensor, hundredths
from tests.support.web_bench import serving

ADDRESS = "02:00:00:00:00:0A"
BENCH = f"""
[bench]
name = "back-room"
data = "{{folder}}/data"
[web]
listen = "127.0.0.1:0"
[[station]]
name = "jar-a"
material = "glass"
[[instrument]]
name = "probe-b"
driver = "ble-gatt"
address = "{ADDRESS}"
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
place = "wall"
height = "60 mm"
clock = 3
unit = "degC"
kind = "contact"
characteristic = "temperature"
"""


def words_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


async def test_page_notice_and_record_tell_of_the_link(bluez, tmp_path, eventually):
    sensor = bluez.add(environmental_sensor(ADDRESS, "Ember", battery=17))
    temperature = sensor.find(TEMPERATURE)
    async with serving(tmp_path, BENCH) as bench:
        (link,) = bench.service.links

        async def read():
            await eventually(lambda: bluez.listened(temperature), within_s=15.0)
            count = link.readings
            bluez.notify(sensor, temperature, hundredths(41.0))
            await eventually(lambda: link.readings > count)
            await bench.seconds(2)

        await read()
        burn = await bench.light(tester="M6")
        for _ in range(3):
            bluez.drop_link(sensor)
            await eventually(lambda: not link.ok)
            await read()
        page = words_of(await bench.client.get("/instruments"))
        for said in ("connected again 3 times", "Battery 17 %", "Signal -58 dBm"):
            assert said in page
        now = await bench.now()
        assert now["instruments"][0]["battery_percent"] == 17
        assert "battery-low" in [alarm["rule"] for alarm in now["alarms"]]
        await bench.service.recorder.saved()
        stored = (await bench.client.get(f"/api/burns/{burn}")).json()
        assert stored["links"] == [
            {"instrument": "probe-b", "reconnects": 3, "weakest_dbm": -58, "battery_percent": 17}
        ]
        record = words_of(await bench.client.get(f"/burns/{burn}/record"))
        assert "probe-b: lost its link and came back 3 times" in record
