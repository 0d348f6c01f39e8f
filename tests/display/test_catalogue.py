"""Every word of the page has its German one, and the German catalogue says nothing that the page does not."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import fillmark
from fillmark.engine.budget import BETTER
from fillmark.engine.delay import Delay
from fillmark.engine.reaction import UNKNOWN, Reaction
from fillmark.engine.stop_points import STOP_POINTS
from fillmark.engine.view import job_view
from fillmark.intake.replay import replay
from fillmark.refrigerants import cautions

FOLDER = Path(fillmark.__file__).parent / "display"
STREAMS = Path(__file__).parents[2] / "demo_streams"
# One of each kind: they say most of what all of them say, in a tenth of the time.
SAID_BY = ("mower-hold-wet", "snow-groomer-overshoot", "tram-nitrogen-leak")
NODE = shutil.which("node")
SPOKEN = ("placeholder", "aria-label", "title")
NAMES = re.compile(r"[–−]|I{1,4}|g|kg|oz|lb|bar|kPa|psi|Pa|micron|inHg|°C|°F|English|Deutsch|Fillmark|[\d\s±.]*")
pytestmark = pytest.mark.skipif(NODE is None, reason="node is not installed")


class Words(HTMLParser):
    """What a reader sees or hears of the page before any script has written into it."""

    def __init__(self) -> None:
        super().__init__()
        self.said: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del tag
        self.said |= {value for name, value in attrs if name in SPOKEN and value}

    def handle_data(self, data: str) -> None:
        if text := re.sub(r"\s+", " ", data).strip():
            self.said.add(text)


@pytest.fixture(scope="module")
def german() -> dict[str, str]:
    assert NODE is not None
    url = json.dumps((FOLDER / "de.js").as_uri())
    script = f"import de from {url}; console.log(JSON.stringify(de))"
    done = subprocess.run(
        [NODE, "--input-type=module", "-e", script], capture_output=True, text=True, timeout=30, check=True
    )
    words: dict[str, str] = json.loads(done.stdout)
    return words


def in_page() -> set[str]:
    words = Words()
    words.feed((FOLDER / "index.html").read_text(encoding="utf-8"))
    return {text for text in words.said if not NAMES.fullmatch(text)}


def in_scripts() -> set[str]:
    """Literals given to `t`, and the words of tables that are given to it later."""
    found: set[str] = set()
    for script in FOLDER.glob("*.js"):
        if script.name == "de.js":
            continue
        text = script.read_text(encoding="utf-8")
        for call in re.findall(r"\b(?:t|calm)\((.*?)\)[;,)\s`}]", text, re.DOTALL):
            found |= set(re.findall(r'"((?:[^"\\]|\\.)+)"', call))
        found |= set(re.findall(r'\b(?:word|label|said|title|boils|on|off): "([^"]+)"', text))
    return {text for text in found if re.search(r"[a-zA-Z]{2}", text)}


def test_every_word_of_the_page_is_translated(german: dict[str, str]) -> None:
    assert len(in_page()) > 80
    assert sorted(in_page() - set(german)) == []


def test_every_word_that_a_script_says_is_translated(german: dict[str, str]) -> None:
    assert len(in_scripts()) > 100
    assert sorted(text for text in in_scripts() - set(german) if not is_no_word(text)) == []


def is_no_word(text: str) -> bool:
    """Names of channels, states, classes and the like, which stand beside words in the same call."""
    return re.fullmatch(r"[a-z][a-z_/.-]*", text) is not None


def test_placeholders_are_the_same_in_both_languages(german: dict[str, str]) -> None:
    holes = re.compile(r"\{\w+\}")
    different = {text for text, said in german.items() if sorted(holes.findall(text)) != sorted(holes.findall(said))}
    assert different == set()


def test_stop_points_and_cautions_are_translated(german: dict[str, str]) -> None:
    wanted = {row.what for row in STOP_POINTS.values()} | {row.why for row in STOP_POINTS.values()}
    wanted |= {one for lines in (cautions.EVERY, *cautions.BY_CLASS.values()) for one in lines}
    assert wanted - set(german) == set()
    names = {row.id.replace("-", " ").capitalize() for row in STOP_POINTS.values()}
    assert names - set(german) == set()


def test_what_the_close_call_reckons_with_is_translated(german: dict[str, str]) -> None:
    reactions = (UNKNOWN, Reaction.declared(2.0), Reaction.known(1.4, 0.3, 1), Reaction.known(1.4, 0.3, 7))
    delays = (Delay(least_s=0.1, usual_s=0.2, high_s=0.4), Delay(least_s=-2.0, usual_s=-1.9, high_s=-1.8))
    said = {str(one.sentence()) for one in (*reactions, *delays)} | set(BETTER.values())
    known = [template(text) for text in german if "{0}" in text]
    assert {text for text in said if text not in german and not any(one.fullmatch(text) for one in known)} == set()


def test_what_the_demo_streams_say_is_translated(german: dict[str, str]) -> None:
    """Sentences with numbers in them match a template. A few long ones may stay English: they are marked as such."""
    said: set[str] = set()
    for name in SAID_BY:
        said |= sentences(STREAMS / f"{name}.senml.jsonl")
    known = [template(text) for text in german if "{0}" in text]
    left = sorted(text for text in said if text not in german and not any(one.fullmatch(text) for one in known))
    assert len(said) > 30
    assert len(left) <= 0.05 * len(said), left


def sentences(stream: Path) -> set[str]:
    state = None
    for state in replay(stream.read_text(encoding="utf-8").splitlines()):  # noqa: B007 - the last state is wanted
        pass
    assert state is not None
    found: set[str] = set()
    for job in state.jobs.values():
        view: dict[str, Any] = dict(job_view(job))
        found |= {point["text"] for point in view["stop_points"]} | set(view["hints"])
        for step in view["steps"].values():
            report = step["report"] or {}
            for member in ("measured", "proves", "does_not_prove", "next"):
                found |= set(report.get(member, ()))
    return found


def template(text: str) -> re.Pattern[str]:
    return re.compile("(.+?)".join(re.escape(part) for part in re.split(r"\{\d\}", text)), re.DOTALL)
