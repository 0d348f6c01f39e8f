"""Optional packages: one place that imports them, and says what to install where one is missing."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from types import ModuleType

PACKAGES: Mapping[str, tuple[str, str]] = {
    "hid": ("hid", "hidapi"),
    "serial": ("serial", "pyserial"),
    "mqtt": ("aiomqtt", "aiomqtt"),
    "bluetooth-sim": ("bumble", "bumble"),
    "plots": ("matplotlib.pyplot", "matplotlib"),
    "announce": ("zeroconf.asyncio", "zeroconf"),
}
"""Module and package by the name of the extra in pyproject.toml."""


class MissingExtraError(ImportError):
    """A package that somebody asked for is not installed."""


def module(extra: str) -> ModuleType:
    """The module of an extra.

    Raises:
        MissingExtraError: it is not installed; the sentence says what to install.
    """
    name, package = PACKAGES[extra]
    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise MissingExtraError(
            f"{package} is missing or cannot be loaded ({error}); install it with: pip install 'fillmark[{extra}]'"
        ) from error
