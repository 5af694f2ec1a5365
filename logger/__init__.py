"""The bench logger: instruments in, estimates, alarms, verdicts and records out."""
