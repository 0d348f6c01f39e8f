"""Drivers: one file a kind of device."""
