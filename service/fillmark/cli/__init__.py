"""The `fillmark` command."""
