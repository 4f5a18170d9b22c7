"""The notebooks of the examples: plain, without outputs, and their code runs as it stands."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pytest
from matplotlib import pyplot as plt

EXAMPLES = Path(__file__).parents[1] / "examples"
NOTEBOOKS = sorted(EXAMPLES.glob("*.ipynb"))


def cells(path: Path, kind: str) -> list[str]:
    form = json.loads(path.read_text(encoding="utf-8"))
    return ["".join(each["source"]) for each in form["cells"] if each["cell_type"] == kind]


@pytest.fixture
def pictures() -> Iterator[None]:
    """Draw where there is no screen."""
    before = mpl.rcParams["backend"]
    mpl.use("Agg")
    yield
    plt.close("all")
    mpl.use(before)


def run(path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Return the names of a notebook after all its code has run, in its own folder."""
    monkeypatch.chdir(path.parent)
    names: dict[str, Any] = {}
    for number, code in enumerate(cells(path, "code"), start=1):
        exec(compile(code, f"{path.name}, code cell {number}", "exec"), names)  # noqa: S102
    return names


def test_there_is_one_for_each_user() -> None:
    assert [path.stem for path in NOTEBOOKS] == ["formulator", "process-engineer", "tech-transfer"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_is_short_and_has_no_outputs(path: Path) -> None:
    form = json.loads(path.read_text(encoding="utf-8"))
    assert (form["nbformat"], form["nbformat_minor"]) == (4, 5)
    assert 5 <= len(form["cells"]) <= 8
    for cell in form["cells"]:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None
            compile("".join(cell["source"]), path.name, "exec")
    told = " ".join(cells(path, "markdown"))
    assert "**invented**" in told
    assert "**Caution.**" in told


@pytest.mark.slow
@pytest.mark.usefixtures("pictures")
def test_the_formulator_gets_a_verdict_and_what_to_press(monkeypatch: pytest.MonkeyPatch) -> None:
    names = run(EXAMPLES / "formulator.ipynb", monkeypatch)
    assert names["judgement"].verdict.answer == "transferable with changes"
    assert names["judgement"].fit.rate.evidence == "measured"
    assert len(names["next_runs"]) > 0
    assert names["next_runs"]["force [N]"].between(1e3, 40e3).all()
    assert names["axes"].has_data()
    assert "<table>" in names["judgement"]._repr_html_()


@pytest.mark.slow
@pytest.mark.usefixtures("pictures")
def test_tech_transfer_gets_settings_presses_and_a_window(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    names = run(EXAMPLES / "tech-transfer.ipynb", monkeypatch)
    force = names["force"]
    assert force.low < force.value < force.high
    assert capsys.readouterr().out.startswith("same solid fraction: 13.6 (")
    assert names["presses"]["output [1/h]"].is_monotonic_decreasing
    assert names["window"].recommended is not None
    assert names["plan"].runs[0].name == "T1"


@pytest.mark.slow
@pytest.mark.usefixtures("pictures")
def test_the_process_engineer_gets_the_margins_of_a_speed(monkeypatch: pytest.MonkeyPatch) -> None:
    names = run(EXAMPLES / "process-engineer.ipynb", monkeypatch)
    assert names["check"].speed == pytest.approx(55.0)
    assert names["check"].confidence == pytest.approx(0.95)
    assert names["check"].answer == names["faster"].answer == "yes with changes"
    strength = names["curve"]["value"]
    assert strength.is_monotonic_decreasing
    assert names["curve"]["speed [rpm]"].to_list() == pytest.approx([15.0, 30.0, 45.0, 60.0, 75.0])
    assert names["faster"].point.holding.force.value > names["check"].point.holding.force.value
