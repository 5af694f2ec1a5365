"""Readings to estimates: calibration, robust running estimates and their uncertainty."""
