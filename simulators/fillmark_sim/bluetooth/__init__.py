"""Bluetooth without a radio: peripherals in memory, and an adapter for bleak that hears and connects to them.

The stack and the controllers are bumble's. Whoever imports a module of this package needs it.
"""

from __future__ import annotations

try:
    import bumble  # noqa: F401 - only to say at once what is missing
except ImportError as error:  # pragma: no cover - the tests install bumble
    raise ImportError(
        "simulated Bluetooth needs the package bumble; install it with: pip install 'fillmark[bluetooth-sim]'"
    ) from error
