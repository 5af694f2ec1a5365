"""The service: its parts joined, replay and demonstration."""
