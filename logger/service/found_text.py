"""[pure] What `wickbench find` found, as text that is itself TOML: its remarks are comments."""

from collections.abc import Iterator

from logger.messages import one_line
from logger.service.finding import InReach
from logger.words import Words

DEFAULT = Words()  # where there is no configuration yet


def lines(found: InReach, words: Words = DEFAULT) -> Iterator[str]:
    """For a person to read, and for `>> bench.toml`."""
    yield "# What is in reach. Lines without # can go into the configuration as they are."
    yield from wired(found, words)
    yield from wireless(found)
    yield from hints(found)


def wired(found: InReach, words: Words = DEFAULT) -> Iterator[str]:
    """Serial ports and 1-Wire thermometers."""
    for port in found.ports:
        usb = f" [{port.usb}]" if port.usb else ""
        yield ""
        yield _remark(f"Serial port {port.path}")
        yield _remark(f"  {port.about}{usb}, {port.device}: {port.state}")
        yield from _proposal(port.toml, port.read_by)
    for sensor in found.sensors:
        value = sensor.trouble if sensor.celsius is None else words.temperature(sensor.celsius)
        yield ""
        yield _remark(f"1-Wire thermometer {sensor.id}: {value}")
        yield from _proposal(sensor.toml, sensor.read_by)


def wireless(found: InReach) -> Iterator[str]:
    """Bluetooth sensors."""
    for probe in found.bluetooth:
        battery = "" if probe.battery_percent is None else f", battery {probe.battery_percent} %"
        about = f"{', '.join(probe.services)}; signal {probe.signal_dbm} dBm{battery}"
        yield ""
        yield _remark(f"Bluetooth {probe.name or 'without a name'}, {probe.address}: {about}")
        if probe.trouble:
            yield _remark(f"  {probe.trouble}")
        yield from _proposal(probe.toml, probe.read_by)


def hints(found: InReach) -> Iterator[str]:
    """What to look at where there is less than hoped for."""
    if found.hints:
        yield ""
    for hint in found.hints:
        yield _remark(hint)


def _proposal(toml: str | None, read_by: str | None) -> Iterator[str]:
    if read_by is not None:
        yield _remark(f"  in the configuration already, as instrument {read_by}")
    if toml is not None:
        yield from toml.splitlines()


def _remark(text: str) -> str:
    return f"# {one_line(text)}"
