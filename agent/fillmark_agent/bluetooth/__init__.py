"""Bluetooth Low Energy: open profiles, self-describing characteristics, declared layouts, broadcasts."""
