"""From an MQTT message to records: SenML in the payload, names by the topic. Faults become text, never a number.

* A retained message is no reading: the broker does not say how old it is.
* A message brings readings only. What the technician does comes from the technician.
* A record that no sensor can have sent is left out; the others of its message are kept.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from fillmark.wire import channels
from fillmark.wire.senml import Record, SenmlError, decode
from fillmark_agent.device import Pack, Sample
from fillmark_agent.edge.outcome import Fault, FaultKind
from fillmark_agent.mqtt.table import TopicTable

_LOG = logging.getLogger(__name__)
_NO_FAULT = "none"
LONGEST = 256 * 1024
"""Bytes of a payload. A pack of a probe has a few hundred."""


@dataclass(slots=True)
class Messages:
    """Decodes what arrives for one bay, and remembers which faults were told.

    Attributes:
        place: bay and device, as "bay-1/probes"; what cannot be given to a channel is told at `place/fault`.
        bay: first part of all channels.
    """

    place: str
    bay: str
    _told: dict[str, FaultKind] = field(default_factory=dict)

    def pack(self, topic: TopicTable, payload: bytes, time_s: float, *, retained: bool) -> Pack:
        """Records of one message that arrived at `time_s` (Unix seconds). Never raises."""
        found = self._read(topic, payload, time_s, retained=retained)
        if isinstance(found, Fault):
            return self._faulty(self.place, found, time_s)
        told = [*self._well(self.place, time_s)]
        for record in found:
            checked = self._checked(record)
            if isinstance(checked, Fault):
                told += self._faulty(record.name, checked, time_s)
            else:
                told += [checked, *self._well(record.name, time_s)]
        return tuple(told)

    def _read(self, topic: TopicTable, payload: bytes, time_s: float, *, retained: bool) -> Sequence[Record] | Fault:
        if retained:
            return Fault(FaultKind.STALE, f"a retained message for {topic.topic}; nobody knows how old it is")
        if len(payload) > LONGEST:
            return Fault(FaultKind.OVERSIZED, f"a message of {len(payload)} bytes for {topic.topic}")
        try:
            records = decode(payload, now_s=time_s)
        except SenmlError as error:
            return Fault(FaultKind.UNREADABLE, f"a message for {topic.topic} is no SenML: {error}")
        if topic.channel is None:
            return [replace(record, name=f"{self.bay}/{topic.prefix}{record.name}") for record in records]
        if len({record.name for record in records}) > 1:
            return Fault(FaultKind.UNREADABLE, f"a message for {topic.topic} has several names for one channel")
        return [replace(record, name=f"{self.bay}/{topic.channel}") for record in records]

    def _checked(self, record: Record) -> Record | Fault:
        try:
            if channels.parse(record.name).local == channels.ACTION:
                return Fault(FaultKind.UNREADABLE, "an action; over MQTT come readings only")
            channels.normalise(record)
        except SenmlError as error:
            return Fault(FaultKind.OUT_OF_RANGE if error.field == "/v" else FaultKind.UNREADABLE, str(error))
        return record

    def _faulty(self, place: str, fault: Fault, time_s: float) -> Pack:
        if self._told.get(place) is fault.kind:
            return ()
        self._told[place] = fault.kind
        _LOG.warning("%s: %s: %s", place, fault.kind, fault.text)
        return (Sample(f"{place}/fault", time_s, f"{fault.kind}: {fault.text}").record(),)

    def _well(self, place: str, time_s: float) -> Pack:
        if self._told.pop(place, None) is None:
            return ()
        return (Sample(f"{place}/fault", time_s, _NO_FAULT).record(),)
