"""Fillmark weighs refrigerant into an air-conditioning circuit, live, and says when to stop."""

__version__ = "0.1.0"
