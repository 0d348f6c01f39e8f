from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent
SUITES = sorted(HERE.glob("*.test.mjs"))
NODE = shutil.which("node")


def test_there_are_suites() -> None:
    assert [suite.name for suite in SUITES], "no *.test.mjs beside this file"


@pytest.mark.skipif(NODE is None, reason="node is not installed; the page's logic is tested where it is")
@pytest.mark.parametrize("suite", SUITES, ids=lambda suite: suite.name.removesuffix(".test.mjs"))
def test_logic_of_the_page(suite: Path) -> None:
    assert NODE is not None
    done = subprocess.run([NODE, "--test", str(suite)], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "# pass 0" not in done.stdout
