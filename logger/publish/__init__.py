"""What leaves the bench while it runs: MQTT and the time-series engine."""
