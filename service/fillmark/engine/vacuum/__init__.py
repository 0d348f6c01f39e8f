"""Evacuation, vacuum hold and pressure test: what a gauge and a clock prove about a circuit, and what they do not."""
