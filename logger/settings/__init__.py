"""The bench's configuration: a TOML file, read once at the edge into frozen objects.

Every fault is reported at once, each with its line and what to write instead.
"""

from logger.settings.bench_keys import AlarmSettings, BenchSettings, Settings
from logger.settings.config_file import find, load, new_file, parse
from logger.settings.delivery_routes import InfluxSettings, MqttSettings, TlsSettings, WebSettings
from logger.settings.drivers import InstrumentSettings
from logger.settings.secret import Secret

__all__ = [
    "AlarmSettings",
    "BenchSettings",
    "InfluxSettings",
    "InstrumentSettings",
    "MqttSettings",
    "Secret",
    "Settings",
    "TlsSettings",
    "WebSettings",
    "find",
    "load",
    "new_file",
    "parse",
]
