"""The folder in which the Linux kernel shows 1-Wire thermometers, written by hand."""

import shutil
from pathlib import Path

_POLYNOMIAL = 0b1_0011_0001  # x^8 + x^5 + x^4 + 1


class OneWireFolder:
    """Sensors appear as `<folder>/<id>/w1_slave`, as from the kernel's thermometer driver."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def show(self, sensor: str, celsius: float, *, bad_crc: bool = False) -> None:
        """What the sensor measures from now on; in steps of 1/16 K (12 bit)."""
        sixteenths = round(celsius * 16)
        low, high = (sixteenths & 0xFFFF).to_bytes(2, "little")
        scratchpad = bytes([low, high, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10])
        crc = crc8(scratchpad)
        seen = crc ^ 0x21 if bad_crc else crc
        octets = " ".join(f"{byte:02x}" for byte in (*scratchpad, seen))
        verdict = "NO" if bad_crc else "YES"
        thousandths = int(sixteenths * 1000 / 16)  # the kernel cuts, it does not round
        self._write(
            sensor,
            f"{octets} : crc={crc:02x} {verdict}\n{octets} t={thousandths}\n",
        )

    def show_power_on(self, sensor: str) -> None:
        """85 degC, as after a dip of its supply."""
        self.show(sensor, 85.0)

    def unplug(self, sensor: str) -> None:
        """The sensor leaves the bus."""
        shutil.rmtree(self.folder / sensor)

    def _write(self, sensor: str, text: str) -> None:
        place = self.folder / sensor
        place.mkdir(exist_ok=True)
        made = place / ".w1_slave"
        made.write_text(text, encoding="ascii")
        made.replace(place / "w1_slave")


def crc8(data: bytes) -> int:
    """Remainder of the polynomial division, bits of each byte from the lowest on."""
    remainder = 0
    for byte in data:
        for place in range(8):
            bit = byte >> place & 1
            top = remainder >> 7
            remainder = remainder << 1 & 0xFF
            if top ^ bit:
                remainder ^= _POLYNOMIAL & 0xFF
    return int(f"{remainder:08b}"[::-1], 2)
