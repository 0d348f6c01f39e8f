"""Readings that arrive over MQTT: what a message says. No broker is touched here."""
