from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

import fillmark
from fillmark.api import pages
from fillmark.engine.stop_points import Severity

FOLDER = Path(fillmark.__file__).parent / "display"
FILES = sorted(path for path in FOLDER.rglob("*") if path.is_file())
SCRIPTS = sorted(FOLDER.glob("*.js"))
LANGUAGES = {"de.js", "de_service.js"}
ASKED_BY_THE_BROWSER = {"worker.js", "icon-512.png"}
STYLES = "\n".join(path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("*.css")))
NAMESPACES = {"http://www.w3.org/2000/svg"}
SWITCHES = ("low", "high", "container", "vacuum", "pump", "engine")
MADE_IN_SCRIPT = {f"{row}-{end}" for row in SWITCHES for end in ("on", "off", "state", "row")}


class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.files: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.labelled: list[str] = []
        self.inline: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.attributes += given.items()
        if "id" in given:
            self.ids.append(given["id"])
        self.files += [given[name] for name in ("src", "href") if name in given and not given[name].startswith("#")]
        for name in ("aria-labelledby", "aria-describedby", "list", "for"):
            self.labelled += given.get(name, "").split()
        if tag == "style" or (tag == "script" and "src" not in given):
            self.inline.append(tag)


@pytest.fixture(scope="module")
def page() -> Page:
    parsed = Page()
    parsed.feed((FOLDER / "index.html").read_text(encoding="utf-8"))
    return parsed


def test_the_page_names_only_files_that_exist(page: Page) -> None:
    assert page.files
    assert [name for name in page.files if not (FOLDER / name).is_file()] == []


def test_scripts_import_only_files_that_exist() -> None:
    found = [(script.name, name) for script in SCRIPTS for name in imports(script)]
    assert found
    assert [pair for pair in found if not pair[1].startswith("./") or not (FOLDER / pair[1]).is_file()] == []


def test_every_script_is_reached_from_the_page(page: Page) -> None:
    reached = {Path(name).name for name in page.files}
    waiting = [FOLDER / name for name in reached if name.endswith(".js")]
    while waiting:
        new = {Path(name).name for name in imports(waiting.pop())} - reached
        reached |= new
        waiting += [FOLDER / name for name in new]
    assert {path.name for path in FILES} - reached == {"index.html"} | ASKED_BY_THE_BROWSER


def test_the_worker_keeps_the_whole_page_and_nothing_else() -> None:
    listed = re.search(r"const FILES = \[(.*?)\];", (FOLDER / "worker.js").read_text(encoding="utf-8"), re.DOTALL)
    assert listed is not None
    names = re.findall(r'"([^"]+)"', listed[1])
    assert sorted(names) == sorted({path.name for path in FILES} - {"index.html"} - ASKED_BY_THE_BROWSER | {"/"})


def test_nothing_comes_from_another_host() -> None:
    texts = [path for path in FILES if path.suffix != ".png"]
    urls = {url for path in texts for url in re.findall(r"(?:https?:)?//[\w.-]+\.[\w./-]+", without_comments(path))}
    assert urls - NAMESPACES == set()
    assert "@import" not in STYLES
    assert {url.strip("\"'")[:1] for url in re.findall(r"url\(([^)]*)\)", STYLES)} <= {"#"}


def test_the_whole_page_is_small_on_the_wire() -> None:
    """Every file of the page, the second language, icons and worker too, as the service sends it to a browser."""
    sent = [pages.pack(path, (0, 0)) for path in FILES]
    assert sum(len(one.plain if one.packed is None else one.packed) for one in sent) < 150_000


def test_modules_are_short() -> None:
    assert {
        s.name: n
        for s in SCRIPTS
        if (n := len(s.read_text(encoding="utf-8").splitlines())) > 240 and s.name not in LANGUAGES
    } == {}


def test_no_inline_script_or_style(page: Page) -> None:
    assert page.inline == []
    assert [name for name, _ in page.attributes if name == "style" or name.startswith("on")] == []


def test_data_goes_in_as_text() -> None:
    markup = re.compile(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|createContextual"
    )
    assert [script.name for script in SCRIPTS if markup.search(script.read_text(encoding="utf-8"))] == []


def test_every_id_in_a_script_is_in_the_page_once(page: Page) -> None:
    assert len(page.ids) == len(set(page.ids))
    call = re.compile(r'(?:byId|onForm|onClick|onSubmit|list|rows|say)\(\s*"([\w-]+)"|(?:byId)\(`([^`]+)`\)')
    used = [one or template for script in SCRIPTS for one, template in call.findall(script.read_text(encoding="utf-8"))]
    assert len(used) > 40
    plain = {name for name in used if "$" not in name}
    assert plain - set(page.ids) == set()
    boards = {name.replace("${board}", "act") for name in used if "${board}" in name}
    assert boards <= set(page.ids)
    switches = {name.replace("${name}", "low") for name in used if "${name}" in name}
    assert switches <= MADE_IN_SCRIPT


def test_labels_point_to_what_is_there(page: Page) -> None:
    assert page.labelled
    assert set(page.labelled) - set(page.ids) == set()


@pytest.mark.parametrize("severity", list(Severity))
def test_every_severity_has_a_style_and_a_word(severity: Severity) -> None:
    assert f'#points li[data-active="true"][data-severity="{severity}"]' in STYLES
    assert f'#call[data-severity="{severity}"]' in STYLES
    table = (FOLDER / "stop_points.js").read_text(encoding="utf-8")
    assert re.search(rf'{severity}: {{ word: "[^"]+", shape: "[^"]+"', table)
    assert re.search(rf"{severity}: \[", (FOLDER / "alarm.js").read_text(encoding="utf-8"))


def test_nothing_moves_for_those_who_want_that() -> None:
    moving = re.sub(r"@media \(prefers-reduced-motion: no-preference\) {(?:[^{}]|{[^{}]*})*}", "", STYLES)
    assert "animation:" in STYLES
    assert "animation:" not in moving
    assert "transition:" not in moving


# WCAG 2.2 success criterion 1.4.6: 7:1 for text at level AAA; relative luminance as its glossary defines it.
PAIRS = [
    ("ink", "ground"), ("ink", "card"), ("soft", "ground"), ("soft", "card"), ("stop-ink", "stop"),
    ("warn-ink", "warn"), ("press-ink", "press"),
]  # fmt: skip
# 1.4.11: 3:1 for the parts of a drawing.
PARTS = [
    ("zone-ink", "trough"),
    ("fill", "trough"),
    ("ink", "trough"),
    ("low", "card"),
    ("high", "card"),
    ("line", "card"),
]


@pytest.mark.parametrize("scheme", ["light", "dark", "sun"])
@pytest.mark.parametrize(("pair", "least"), [*((p, 7.0) for p in PAIRS), *((p, 3.0) for p in PARTS)])
def test_contrast(scheme: str, pair: tuple[str, str], least: float) -> None:
    colours = palette(scheme)
    assert contrast(colours[pair[0]], colours[pair[1]]) >= least


def test_the_contrast_formula_knows_black_on_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # widely printed: just below 4.5


def palette(scheme: str) -> dict[str, str]:
    blocks = dict(re.findall(r':root(?:\[data-theme="(\w+)"\])? {(.*?)}', STYLES, re.DOTALL))
    named = re.compile(r"--([\w-]+): (#[0-9a-f]{6})")
    return {**dict(named.findall(blocks[""])), **dict(named.findall(blocks.get(scheme, "")))}


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def imports(script: Path) -> list[str]:
    text = script.read_text(encoding="utf-8")
    return re.findall(r'^import [\w{}*,\s]*? from "([^"]+)";', text, re.MULTILINE) + re.findall(
        r'import\("([^"]+)"\)', text
    )


def without_comments(path: Path) -> str:
    return re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
