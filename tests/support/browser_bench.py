"""A bench for its page: four places round the wall, the base and the room."""

from tests.support.broker import free_port
from tests.support.process_bench import BenchProcess
from tests.support.waiting import until

# The browser without its windows: it starts and opens a page for a third of the processor time.
CHROMIUM = "/usr/bin/chromium-headless-shell"
# Without a graphics card, a large /dev/shm, or anybody to talk to.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]

SIZES = {"phone": (390, 844), "laptop": (1280, 800)}

HEAD = """
[bench]
name = "test-bench"
data = "{folder}/data"

[averaging]
every = "1 s"

[limits.glass]
wall_alert = "55 degC"
wall_limit = "60 degC"

[web]
listen = "127.0.0.1:{port}"

[[station]]
name = "jar-a"
material = "glass"

[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/probes"
silent_after = "3 s"
"""
CHANNEL = """
[[instrument.channel]]
name = "{name}"
quantity = "temperature"
field = {field}
unit = "degC"
place = "{place}"
"""
SURE = """kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.1 delta_degC"
"""
WALLS = ((60, 3), (60, 9), (30, 6), (80, 12))


def configuration() -> str:
    """Four places round the wall, the base, and the room; `{folder}` is left open."""
    text = HEAD.replace("{port}", str(free_port()))
    for field, (height, clock) in enumerate(WALLS):
        text += CHANNEL.format(name=f"jar-a-wall-{height}-{clock}", field=field, place="wall")
        text += f'station = "jar-a"\nheight = "{height} mm"\nclock = {clock}\n' + SURE
    text += CHANNEL.format(name="jar-a-base", field=4, place="base") + 'station = "jar-a"\n' + SURE
    return text + CHANNEL.format(name="room", field=5, place="room")


class Bench(BenchProcess):
    """A bench whose probes show `values`, in the order of its configuration."""

    def __init__(self, folder, text: str, first: float = 45.0) -> None:
        super().__init__(folder, text)
        self.values: list[float | None] = [first, 43.0, 41.0, 47.0, 38.0, 22.0]

    def begin(self) -> None:
        """Start and wait for estimates of every place."""
        self.start()
        if text_has_instruments(self.config.read_text()):
            self.opened()
            self.write(lambda: self.values)
            until(
                lambda: all(c["estimate"] for c in self.now()["channels"]), "every place is known"
            )


def text_has_instruments(text: str) -> bool:
    """Whether a configuration has an instrument to wait for."""
    return "[[instrument]]" in text
