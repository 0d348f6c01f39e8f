"""Reads devices, keeps readings on disk until the service has acknowledged them, reconnects forever."""
