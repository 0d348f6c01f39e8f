"""The `fillmark` command. One file a subcommand; heavy imports happen inside them, so that help is instant."""

from fillmark.cli.main import app

__all__ = ["app"]
