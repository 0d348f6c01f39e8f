"""What is published on a broker, described for machines: an AsyncAPI 3.0.0 document, itself a retained message.

AsyncAPI is an open specification of the Linux Foundation for interfaces made of messages. Whoever reads this one
message knows every topic, its payload with units, and how it is retained.
"""

from __future__ import annotations

from fillmark.outlets.feed import Plain

STATUS, DESCRIPTION, GLANCE, STOP_POINT = "status", "description", "bays/{bay}/glance", "bays/{bay}/stop_point"
"""Topics below the prefix. `{bay}` is the name of a bay, which has no character that MQTT forbids."""
ONLINE, OFFLINE = "online", "offline"
BINDING = "0.2.0"


def description(prefix: str, version: str, glance: Plain, stop_point: Plain) -> Plain:
    """The document.

    Args:
        prefix: beginning of all topics.
        version: of the service.
        glance: JSON schema of a glance.
        stop_point: JSON schema of a change of a stop point.
    """
    told: Plain = {"type": "string", "enum": [ONLINE, OFFLINE]}
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": "Fillmark",
            "version": version,
            "description": "Mass charged into a refrigerant circuit, and stop points on which the technician must act. "
            "Numbers are in SI with the unit in the name. Unknown is null. Times are Unix seconds. A glance is true "
            "only while the status is online.",
        },
        "defaultContentType": "application/json",
        "channels": {
            "status": _channel(f"{prefix}/{STATUS}", "Whether the service publishes.", told, "text/plain"),
            "glance": _channel(f"{prefix}/{GLANCE}", "A bay at a glance, at its latest.", glance),
            "stop_point": _channel(f"{prefix}/{STOP_POINT}", "A stop point has changed.", stop_point),
        },
        "operations": {
            "tellStatus": _sends("status", qos=1, retain=True),
            "showGlance": _sends("glance", qos=0, retain=True),
            "tellStopPoint": _sends("stop_point", qos=1, retain=False),
        },
    }


def _channel(address: str, summary: str, payload: Plain, media_type: str = "application/json") -> Plain:
    made: Plain = {
        "address": address,
        "summary": summary,
        "messages": {"message": {"contentType": media_type, "payload": payload}},
    }
    if "{bay}" in address:
        made["parameters"] = {"bay": {"description": "Name of the bay, as bay-1."}}
    return made


def _sends(channel: str, *, qos: int, retain: bool) -> Plain:
    binding = {"qos": qos, "retain": retain, "bindingVersion": BINDING}
    return {"action": "send", "channel": {"$ref": f"#/channels/{channel}"}, "bindings": {"mqtt": binding}}
