"""Shows every bay that is published on a broker. Needs: pip install aiomqtt

python3 subscribe.py [HOST] [PORT] [PREFIX]
"""

import asyncio
import json
import sys

import aiomqtt

HOST = sys.argv[1] if len(sys.argv) > 1 else "127.0.0.1"
PORT = int(sys.argv[2]) if len(sys.argv) > 2 else 1883
PREFIX = sys.argv[3] if len(sys.argv) > 3 else "fillmark"


async def main():
    """Print what changes. While the status is not online, a glance is not true any more."""
    async with aiomqtt.Client(HOST, PORT) as client:
        await client.subscribe(f"{PREFIX}/status")
        await client.subscribe(f"{PREFIX}/bays/+/+", qos=1)
        async for message in client.messages:
            kind, text = str(message.topic).rpartition("/")[2], message.payload.decode()
            if kind == "status":
                print(f"the service is {text}", flush=True)
            elif kind == "glance":
                glance = json.loads(text)
                mass = f"{glance['charged_kg'] * 1000:.0f} g" if glance["mass_live"] else "no live mass"
                print(f"{glance['bay']}: {mass}", flush=True)
            elif kind == "stop_point":
                moved = json.loads(text)
                print(f"{moved['bay']}: {moved['id']} is {moved['after']}", flush=True)


asyncio.run(main())
