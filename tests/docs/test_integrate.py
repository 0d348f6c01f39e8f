"""The examples for integrators do what the document says, against a real service."""

from __future__ import annotations

import base64
import importlib.util
import json
import re
import shlex
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import httpx
import pytest
from typer.testing import CliRunner

from fillmark.api import schemas
from fillmark.cli import app

if TYPE_CHECKING:
    from tests.docs.conftest import Bay, Service, Start

PAGE = Path(__file__).parents[2] / "docs" / "integrate.md"
TEXT = PAGE.read_text(encoding="utf-8")
COMMANDS = [line for block in re.findall(r"```sh\n(.*?)```", TEXT, re.DOTALL) for line in block.splitlines()]
NODE, CURL = shutil.which("node"), shutil.which("curl")


def test_every_link_leads_somewhere_and_every_example_is_named(examples: Path) -> None:
    links = [target.partition("#") for target in re.findall(r"\]\(([^)]+)\)", TEXT) if "://" not in target]
    for path, _, anchor in links:
        target = PAGE.parent / path if path else PAGE
        assert target.exists(), path
        if anchor:
            heads = re.findall(r"^#+ (.*)$", target.read_text(encoding="utf-8"), re.MULTILINE)
            assert anchor in {head.lower().replace(" ", "-") for head in heads}
    assert {path for path, _, _ in links} >= {f"examples/{each.name}" for each in examples.iterdir() if each.is_file()}


def test_the_tables_name_every_member() -> None:
    for model in (schemas.Glance, schemas.BayStopPointMoved):
        unsaid = [name for name in model.model_fields if f"`{name}`" not in TEXT and f'"{name}"' not in TEXT]
        assert set(unsaid) <= {"bay"}


def test_every_option_of_the_commands_exists() -> None:
    said = CliRunner().invoke(app, ["serve", "--help"], env={"COLUMNS": "200"}).stdout
    used = {
        option for line in COMMANDS if line.startswith("fillmark serve") for option in re.findall(r"--[a-z-]+", line)
    }
    assert used >= {"--webhook", "--mqtt", "--mqtt-prefix", "--host", "--token"}
    assert [option for option in sorted(used | {"--announce", "--no-announce"}) if option not in said] == []
    for variable in re.findall(r"FILLMARK_[A-Z_]+", TEXT):
        assert variable in said


@pytest.mark.skipif(CURL is None, reason="curl is not installed; its lines are tried where it is")
def test_the_lines_with_curl(service: Service, bay: Bay, start: Start) -> None:
    place = {"http://127.0.0.1:8000": service.url, "bay-1.1": bay.job, "bay-1": bay.name}
    lines = [line for line in COMMANDS if line.startswith("curl ")]
    for old, new in place.items():
        lines = [line.replace(old, new) for line in lines]
    once, again, stream = (shlex.split(line) for line in lines)
    answer = curl(*once)
    head, _, body = answer.partition("\n\n")
    assert schemas.Glance.model_validate_json(body).job == bay.job
    tag = re.search(r"^etag: (.*)$", head, re.MULTILINE | re.IGNORECASE)
    assert tag is not None
    given = {'If-None-Match: W/"the-tag-of-the-last-answer"': f"If-None-Match: {tag[1]}"}
    assert curl(*(given.get(part, part).replace("wait=20", "wait=0") for part in again)).startswith("HTTP/1.1 304")
    following = start(*stream)
    following.until("event: state")
    bay.raise_a_stop_point()
    following.until("event: stop_point")


def test_the_opening_that_names_the_technician(service: Service) -> None:
    (opening,) = (block for block in re.findall(r"```json\n(.*?)```", TEXT, re.DOTALL) if '"technician"' in block)
    view = schemas.JobView.model_validate(service.http.post(f"{service.url}/v1/jobs", json=json.loads(opening)).json())
    assert (view.reaction.source, view.reaction.closings) == ("assumed", 0)
    for field in ("reaction_time", "reaction_learnt"):
        row = re.search(rf'^\| `("{field}": .*?)` \|', TEXT, re.MULTILINE)
        assert row is not None
        said = {**json.loads(opening), "bay": f"bay-{field}", **json.loads(f"{{{row[1]}}}")}
        assert service.http.post(f"{service.url}/v1/jobs", json=said).json()["reaction"]["time_s"] == 1.2
    assert set(view.timing.model_dump()) - {"text"} <= set(re.findall(r"`(\w+)`", TEXT))


def curl(command: str, *arguments: str) -> str:
    """Head and body of the answer."""
    done = subprocess.run([command, "-sSi", *arguments], capture_output=True, text=True, check=True, timeout=60)
    return done.stdout


def test_the_python_glance(service: Service, bay: Bay, start: Start, examples: Path) -> None:
    shown = start(sys.executable, examples / "glance.py", service.url, bay.name)
    assert shown.until("0 g of 500 g").startswith("0 g of 500 g")
    bay.raise_a_stop_point()
    shown.until("Shut the high-side valve now.")
    bay.act("job.close")
    shown.until("no job")


def test_the_python_stream_misses_nothing(service: Service, bay: Bay, start: Start, examples: Path) -> None:
    bay.raise_a_stop_point()
    shown = start(sys.executable, examples / "follow.py", service.url, bay.job)
    assert shown.until("high-side-open-while-running").startswith("critical: ")
    bay.act("valve", valve="high", open=False)
    shown.until("high-side-open-while-running is returned to normal unacknowledged")


def test_the_receiver_takes_what_is_signed_and_nothing_else(service: Service, bay: Bay) -> None:
    bay.raise_a_stop_point()
    service.receiver.until(f"{bay.name}: high-side-open-while-running is unacknowledged active. ")
    forged = {"webhook-id": "msg_1", "webhook-timestamp": str(int(time.time())), "webhook-signature": "v1,AAAA"}
    assert service.http.post(service.hook, content=b"{}", headers=forged).status_code == 401


def test_the_subscriber(service: Service, bay: Bay, start: Start, examples: Path) -> None:
    shown = start(sys.executable, examples / "subscribe.py", "127.0.0.1", service.broker.port, "shop")
    shown.until("the service is online")
    shown.until(f"{bay.name}: 0 g")
    bay.raise_a_stop_point()
    shown.until(f"{bay.name}: high-side-open-while-running is unacknowledged active")


class Answer:
    """An answer as MicroPython's package requests gives it."""

    def __init__(self, status_code: int, body: bytes, headers: dict[str, str]) -> None:
        self.status_code, self.headers, self._body = status_code, headers, body

    def json(self) -> Any:  # noqa: ANN401 - JSON
        return json.loads(self._body)

    def close(self) -> None:
        self._body = b""


def get(url: str, headers: dict[str, str], timeout: float) -> Answer:
    """`requests.get` with the arguments that MicroPython's knows."""
    answer = httpx.get(url, headers=headers, timeout=timeout, trust_env=False)
    return Answer(answer.status_code, answer.content, dict(answer.headers))


def test_the_small_screen(
    service: Service, bay: Bay, examples: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The script runs under CPython with a stand-in for the one package that it imports."""
    package = ModuleType("requests")
    monkeypatch.setattr(package, "get", get, raising=False)
    monkeypatch.setitem(sys.modules, "requests", package)
    spec = importlib.util.spec_from_file_location("screen", examples / "screen.py")
    assert spec is not None
    assert spec.loader is not None
    screen = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(screen)
    tag = screen.look(None, service.url, bay.name)
    assert capsys.readouterr().out.splitlines() == ["0 g", "aim 500 g", ""]
    bay.raise_a_stop_point()
    newer = screen.look(tag, service.url, bay.name)
    assert capsys.readouterr().out.splitlines()[2] == "high-side-open-while-running"
    assert newer != tag
    assert screen.rows({"job": None}) == ["NO JOB", "", ""]
    closing = {"job": "j", "charged_kg": 0.49, "aim_kg": 0.5, "mass_live": True, "close_valve": True, "stop_point": "x"}
    assert screen.rows(closing)[0] == "CLOSE VALVE"
    assert screen.rows({**closing, "close_valve": False, "mass_live": False})[0] == "- g"


DOM = """
const texts = {};
globalThis.location = { search: process.argv[1] };
globalThis.document = {
  getElementById: (id) => ({ set textContent(text) { texts[id] = text; console.log(id + "=" + text); } }),
  body: { classList: { toggle: (name, on) => console.log(name + "=" + on) } },
};
"""


@pytest.mark.skipif(NODE is None, reason="node is not installed; the page's script is tried where it is")
def test_the_page_of_thirty_lines(service: Service, bay: Bay, start: Start, examples: Path) -> None:
    page = (examples / "page.html").read_text(encoding="utf-8")
    assert len(page.splitlines()) == 30
    script = re.search(r"<script type=\"module\">(.*?)</script>", page, re.DOTALL)
    assert script is not None
    query = f"?service={service.url}&bay={bay.name}"
    shown = start(NODE, "--input-type=module", "--eval", DOM + script[1], query)
    shown.until("mass=0 g")
    shown.until("act=false")
    bay.raise_a_stop_point()
    shown.until("text=")
    shown.until("act=true")


def test_the_secret_of_the_example_is_one() -> None:
    command = next(line for line in COMMANDS if "WEBHOOK_SECRET=" in line)
    made = subprocess.run(["sh", "-c", f"{command}; echo $FILLMARK_WEBHOOK_SECRET"], capture_output=True, check=True)
    prefix, _, text = made.stdout.decode().strip().partition("_")
    assert (prefix, len(base64.b64decode(text, validate=True))) == ("whsec", 32)
