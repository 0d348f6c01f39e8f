"""The configuration of a demo whose readings come over Bluetooth in memory, as a user would write it."""

from __future__ import annotations

import json


def configuration() -> str:
    """Tables of the simulated bay's scale, pressure probes and clamps; they continue the table of the bay.

    Raises:
        MissingExtraError: the stack in memory is not installed.
    """
    from fillmark_sim.bluetooth import bay
    from fillmark_sim.bluetooth.instruments import FINE_MASS, FINE_STABLE

    parts = ["air = true\n", _device("bluetooth", "scale", bay.SCALE.address)]
    parts += [_channel("scale/mass", FINE_MASS), _channel("scale/stable", FINE_STABLE)]
    for device, card in bay.PROBES.items():
        parts += [_device("bluetooth", device, card.address), _channel(f"{device}/pressure", "2a6d")]
    for device, card in bay.CLAMPS.items():
        parts += [_device("bluetooth-broadcast", device, card.address), _broadcast(f"{device}/temperature")]
    return "\n".join(parts)


def _device(driver: str, name: str, address: str) -> str:
    return f'[[devices]]\ndriver = "{driver}"\nname = "{name}"\naddress = "{address}"\n'


def _channel(channel: str, uuid: str) -> str:
    return f"[[devices.channels]]\nchannel = {json.dumps(channel)}\ncharacteristic = {json.dumps(uuid)}\n"


def _broadcast(channel: str) -> str:
    return (
        f'[[devices.channels]]\nchannel = {json.dumps(channel)}\nservice_data = "181a"\n'
        '[devices.channels.layout]\noffset = 0\nformat = "sint16"\nscale = 0.01\nunit = "Cel"\n'
    )
