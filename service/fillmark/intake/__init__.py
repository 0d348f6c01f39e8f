"""Turns what crosses the wire into events of the engine."""
