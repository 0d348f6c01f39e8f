"""The air between virtual controllers: bumble's local link, and what goes wrong in real air."""

from __future__ import annotations

import uuid

from bumble.controller import Controller
from bumble.core import PhysicalTransport
from bumble.device import Device, DeviceConfiguration
from bumble.hci import Address, HCI_ErrorCode
from bumble.link import LocalLink

CENTRAL_ADDRESS = "C0:C1:C2:C3:C4:C5"
_INTERVAL_MS = 20.0


class Air(LocalLink):
    """Everything that can hear each other.

    Attributes:
        muffled: addresses whose data is lost although their link stands: silence that nobody reports.
        deduplicates: the adapter reports the same advertisement once in a search, as some systems do.
        names_by_uuid: the adapter shows identifiers of its own instead of addresses, as macOS does.
    """

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]  # bumble's
        self.muffled: set[str] = set()
        self.deduplicates = False
        self.names_by_uuid = False

    def send_acl_data(
        self, sender_controller: Controller, destination_address: Address, transport: PhysicalTransport, data: bytes
    ) -> None:
        """Carry data between two controllers, or lose it."""
        ends = {str(sender_controller.random_address)[:17], destination_address.to_string(False)}
        if not ends & self.muffled:
            super().send_acl_data(sender_controller, destination_address, transport, data)

    def identifier(self, address: Address) -> str:
        """What the adapter calls a device."""
        text = address.to_string(False)
        return str(uuid.uuid5(uuid.NAMESPACE_OID, text)).upper() if self.names_by_uuid else text

    def supervision_timeout(self, address: str) -> None:
        """Both ends find that nothing has come for too long: the link ends with reason 0x08."""
        for controller in list(self.controllers):
            for connection in list(controller.le_connections.values()):
                if address in {connection.peer_address.to_string(False), connection.self_address.to_string(False)}:
                    controller.on_le_disconnected(connection, HCI_ErrorCode.CONNECTION_TIMEOUT_ERROR)

    def station(self, name: str, address: str) -> tuple[Device, Controller]:
        """A new device with its controller on this air. Power it on before use."""
        controller = Controller(name, link=self)
        settings = DeviceConfiguration(
            name=name,
            address=Address(address),
            advertising_interval_min=_INTERVAL_MS,
            advertising_interval_max=_INTERVAL_MS,
        )
        return Device.from_config_with_hci(settings, controller, controller), controller
