from __future__ import annotations

import subprocess
import sys
import threading
import tomllib
from pathlib import Path
from types import SimpleNamespace

import CoolProp
import pytest

from fillmark.refrigerants import coolprop
from fillmark.refrigerants.facade import PINNED_VERSION, WrongLibraryError, coolprop_version, get, names
from fillmark.refrigerants.protocol import Refrigerant


def test_coolprop_is_not_imported_before_a_property_is_asked_for() -> None:
    script = (
        "import sys\n"
        "from fillmark.refrigerants import facade, safety\n"
        "r = facade.get('R-134a')\n"
        "r.name, r.zeotropic, facade.names(), facade.coolprop_version(), safety.safety('R-744')\n"
        "assert not any(m == 'CoolProp' or m.startswith('CoolProp.') for m in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_pinned_version_runs() -> None:
    project = Path(__file__).parents[2] / "pyproject.toml"
    dependencies = tomllib.loads(project.read_text(encoding="utf-8"))["project"]["dependencies"]
    assert f"CoolProp=={PINNED_VERSION}" in dependencies
    assert coolprop_version() == PINNED_VERSION == CoolProp.__version__


def test_another_version_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "CoolProp", SimpleNamespace(__version__="7.2.0"))
    # Past the cache: it holds the answer of the installed CoolProp.
    with pytest.raises(WrongLibraryError, match=r"7\.2\.0.*8\.0\.0"):
        coolprop.codes.__wrapped__()


def test_a_refrigerant_is_one_object() -> None:
    assert all(get(name) is get(name.lower()) for name in names())


def test_the_model_is_what_the_engine_may_ask() -> None:
    refrigerant: Refrigerant = get("R-134a")
    assert refrigerant.dew_pressure_pa(300.0) > 0.0


@pytest.mark.parametrize("name", ["R-134a", "R-744", "R-407C"])
def test_the_answer_does_not_depend_on_what_was_asked_before(name: str) -> None:
    refrigerant = get(name)

    def ask() -> tuple[float, ...]:
        return (
            refrigerant.dew_pressure_pa(285.0),
            refrigerant.dew_temperature_k(1.0e6),
            refrigerant.vapour_density_kg_m3(300.0, 1.0e5),
            refrigerant.liquid_density_kg_m3(285.0, 6.0e6),
        )

    before = ask()
    refrigerant.vapour_density_kg_m3(330.0, 9.0e5)
    refrigerant.liquid_density_kg_m3(250.0, 4.0e6)
    refrigerant.bubble_pressure_pa(240.0)
    assert ask() == before


def test_threads_do_not_disturb_each_other() -> None:
    refrigerant = get("R-134a")
    temperatures = (250.0, 280.0, 310.0, 340.0)
    expected = {t: (refrigerant.dew_pressure_pa(t), refrigerant.vapour_density_kg_m3(t, 5e4)) for t in temperatures}
    wrong: list[float] = []

    def work(t: float) -> None:
        answers = ((refrigerant.dew_pressure_pa(t), refrigerant.vapour_density_kg_m3(t, 5e4)) for _ in range(500))
        wrong.extend(t for answer in answers if answer != expected[t])

    threads = [threading.Thread(target=work, args=(t,)) for t in temperatures]
    interval = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    try:
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    finally:
        sys.setswitchinterval(interval)
    assert wrong == []
