"""How the alarms of each rule live: delays, and when one is raised again though acknowledged.

The times are our choice where nothing else is said. Deadbands stand with the rules.
"""

from logger.alarms.lifecycle import Timing

STILL_OVER = 600.0  # acknowledged, and ten minutes later still on: raised again

TIMINGS: dict[str, Timing] = {
    "wall-alert": Timing(off_delay_s=60.0),
    "wall-limit": Timing(off_delay_s=60.0, raise_again_s=STILL_OVER),
    "wall-forecast": Timing(on_delay_s=120.0, off_delay_s=60.0),  # made anew each minute
    "rise-rate": Timing(on_delay_s=20.0, off_delay_s=60.0),
    "flame-out": Timing(on_delay_s=60.0),
    "hotter-after-out": Timing(on_delay_s=60.0, raise_again_s=STILL_OVER),
    "warming-unlit": Timing(on_delay_s=120.0, raise_again_s=STILL_OVER),
    "still-hot": Timing(raise_again_s=STILL_OVER),
    "burn-ending": Timing(),
    "burn-too-long": Timing(raise_again_s=STILL_OVER),
    "relit-too-soon": Timing(),
    "unchecked": Timing(),
    "unwatched": Timing(on_delay_s=300.0, raise_again_s=STILL_OVER),  # time to answer
    "silent": Timing(),
    "sensor-fault": Timing(),  # its delays stand with what is looked at
    "room-out-of-range": Timing(on_delay_s=300.0, off_delay_s=60.0),
    "battery-low": Timing(),
    "delivery": Timing(on_delay_s=30.0),  # this long without a confirmed message
    "storage": Timing(),
    "program": Timing(),  # it has its own delay
    "clock": Timing(),
    "emergency": Timing(raise_again_s=STILL_OVER),
}
