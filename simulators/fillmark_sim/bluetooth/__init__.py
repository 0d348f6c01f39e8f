"""Bluetooth without a radio: peripherals in memory, and an adapter for bleak that hears and connects to them.

The stack and the controllers are bumble's. Whoever imports a module of this package needs the extra.
"""

from __future__ import annotations

from fillmark.wire import extras

extras.module("bluetooth-sim")
