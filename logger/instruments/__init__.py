"""The world to readings: one module per way of being wired, one supervisor for all."""
