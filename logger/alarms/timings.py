"""How the alarms of each rule live: delays, and when one is raised again though acknowledged.

The times are our choice where nothing else is said. Deadbands stand with the rules.
"""

from logger.alarms.lifecycle import Timing
from logger.quantities import Rule

STILL_OVER = 600.0  # acknowledged, and ten minutes later still on: raised again

TIMINGS: dict[Rule, Timing] = {
    Rule.WALL_ALERT: Timing(off_delay_s=60.0),
    Rule.WALL_LIMIT: Timing(off_delay_s=60.0, raise_again_s=STILL_OVER),
    Rule.WALL_FORECAST: Timing(on_delay_s=120.0, off_delay_s=60.0),  # made anew each minute
    Rule.RISE_RATE: Timing(on_delay_s=20.0, off_delay_s=60.0),
    Rule.FLAME_OUT: Timing(on_delay_s=60.0),
    Rule.HOTTER_AFTER_OUT: Timing(on_delay_s=60.0, raise_again_s=STILL_OVER),
    Rule.WARMING_UNLIT: Timing(on_delay_s=120.0, raise_again_s=STILL_OVER),
    Rule.STILL_HOT: Timing(raise_again_s=STILL_OVER),
    Rule.BURN_ENDING: Timing(),
    Rule.BURN_TOO_LONG: Timing(raise_again_s=STILL_OVER),
    Rule.RELIT_TOO_SOON: Timing(),
    Rule.UNCHECKED: Timing(),
    Rule.MARK: Timing(),
    Rule.UNWATCHED: Timing(on_delay_s=300.0, raise_again_s=STILL_OVER),  # time to answer
    Rule.SILENT: Timing(),
    Rule.SENSOR_FAULT: Timing(),  # its delays stand with what is looked at
    Rule.ROOM_OUT_OF_RANGE: Timing(on_delay_s=300.0, off_delay_s=60.0),
    Rule.BATTERY_LOW: Timing(),
    Rule.DELIVERY: Timing(on_delay_s=30.0),  # this long without a confirmed message
    Rule.STORAGE: Timing(),
    Rule.PROGRAM: Timing(),  # it has its own delay
    Rule.CLOCK: Timing(),
    Rule.EMERGENCY: Timing(raise_again_s=STILL_OVER),
}
