"""`python -m fillmark` is the `fillmark` command."""

from fillmark.cli import app

app(prog_name="fillmark")
