"""Simulated candles and the instruments that look at them; they know nothing of the logger."""
