"""What tests of several parts use: an MQTT broker that is not ours."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
AMPLE_S = 30.0


class Broker:
    """Mosquitto on a port of this machine, with nothing kept on disk."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence false\nuser root\n",
            encoding="utf-8",
        )
        self._log = folder / "mosquitto.log"
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen([str(MOSQUITTO), "-c", self._config], stdout=log, stderr=log)
        deadline = time.monotonic() + AMPLE_S
        while time.monotonic() < deadline:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1.0).close()
            except OSError:
                time.sleep(0.02)
            else:
                return
        pytest.fail(f"mosquitto does not answer: {self._log.read_text(encoding='utf-8')}")

    def kill(self) -> None:
        """End it without a word to its clients."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait(AMPLE_S)


@pytest.fixture(scope="session")
def start_broker() -> Iterator[Callable[[Path], Broker]]:
    """Starts brokers, each in a folder of its own, and ends them with the session."""
    with ExitStack() as stack:

        def make(folder: Path) -> Broker:
            if MOSQUITTO is None:
                pytest.skip("mosquitto is not installed; MQTT is tested where it is")
            made = Broker(folder)
            made.start()
            stack.callback(made.kill)
            return made

        yield make


@pytest.fixture
def broker(start_broker: Callable[[Path], Broker], tmp_path: Path) -> Iterator[Broker]:
    """A broker that is running; it is new for every test."""
    made = start_broker(tmp_path)
    yield made
    made.kill()
