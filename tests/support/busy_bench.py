"""A bench on which several candles are at different points: what its pages must set in order."""

from tests.support.broker import free_port
from tests.support.browser_bench import CHANNEL, HEAD, SURE, Bench

WALLS = (("jar-a", 60, 3), ("jar-a", 30, 9), ("jar-b", 60, 6))
CHECKS = ["tray", "clear", "vessel", "room", "lid", "watcher"]
PASSED = dict.fromkeys(
    (
        "leak_24_h",
        "tip_10_degrees",
        "scratches_and_stones",
        "statement_on_file",
        "nothing_flammable",
    ),
    "passed",
)


def configuration() -> str:
    """Two jars with probes and two stations that are read by hand; `{folder}` is left open."""
    text = HEAD.replace("{port}", str(free_port()))
    for field, (station, height, clock) in enumerate(WALLS):
        name = f"{station}-wall-{height}-{clock}"
        text += CHANNEL.format(name=name, field=field, place="wall")
        text += f'station = "{station}"\nheight = "{height} mm"\nclock = {clock}\n' + SURE
    text += CHANNEL.format(name="room", field=3, place="room")
    for name, material in (("jar-b", "glass"), ("tin-c", "metal"), ("jar-d", "glass")):
        text += f'\n[[station]]\nname = "{name}"\nmaterial = "{material}"\n'
    return text


class BusyBench(Bench):
    """jar-a and jar-b burn, tin-c is out and its wall over its limit by hand, jar-d is free."""

    def __init__(self, folder) -> None:
        super().__init__(folder, configuration())
        self.values = [45.0, 43.0, 44.0, 22.0]
        self.burns: dict[str, str] = {}

    def done(self, path: str, **body):
        """What the bench answered to an entry that it took."""
        status, answer = self.post(path, **body)
        assert status in (200, 201), answer
        return answer

    def begin(self) -> None:
        """Start, put records on the shelf, light, look, read and put out."""
        super().begin()
        self.done(
            "/api/vessels",
            name="amber-90",
            material="glass",
            inner_diameter="75 mm",
            height="90 mm",
            **PASSED,
        )
        for trial in ("cedar-6", "M4", "M6", "M8"):
            self.done("/api/trials", name=trial, vessel="amber-90")
        self.done("/api/testers", name="A1", vessel="amber-90", trial="cedar-6")
        self.light("jar-a", "cedar-6", "70 min ago", tester="A1")
        self.light("jar-b", "cedar-8", "20 min ago")
        self.light("tin-c", "pine-4", "90 min ago")
        self.done(
            f"/api/burns/{self.burns['jar-a']}/observations",
            pool="62 mm, 60 mm",
            full_pool="no",
            wax_level="64 mm",
            at="10 min ago",
        )
        self.done(
            f"/api/burns/{self.burns['tin-c']}/readings",
            values=[51.0, 51.2, 50.8],
            unit="degC",
            place="wall",
            height="40 mm",
            clock=3,
        )
        self.done(f"/api/burns/{self.burns['tin-c']}/out")

    def light(self, station: str, trial: str, at: str = "now", **more) -> None:
        """Record a lighting with every check confirmed."""
        self.burns[station] = self.done(
            "/api/burns",
            station=station,
            trial=trial,
            checks=CHECKS,
            at=at,
            watched_by="Ines",
            **more,
        )["burn"]
