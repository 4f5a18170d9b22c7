"""What the library's own documentation must say, function by function."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path

import pytest

import scaleup

PACKAGE = Path(scaleup.__file__).parent
PHYSICS = ("presses", "powder")
CORE = (*PHYSICS, "pulses", "calibration", "transfer", "answers")
ANSWERS = ("translate", "check_speed", "compare", "judge", "operating_window", "imitate")


def definitions(folder: str) -> Iterator[tuple[str, ast.FunctionDef, bool]]:
    """Yield every public function and method of a folder, and whether it is a method."""
    for path in sorted((PACKAGE / folder).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield f"{path.stem}.{node.name}", node, False
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                for each in node.body:
                    if isinstance(each, ast.FunctionDef) and not each.name.startswith("_"):
                        yield f"{path.stem}.{node.name}.{each.name}", each, True


def every(*folders: str) -> list[tuple[str, ast.FunctionDef, bool]]:
    return [each for folder in folders for each in definitions(folder)]


def test_every_public_function_says_what_it_returns() -> None:
    wrong = [
        name
        for name, node, _ in every(*CORE)
        if not (ast.get_docstring(node) or "").startswith(("Return", "Yield"))
        and (node.returns is None or ast.unparse(node.returns) != "None")
        and not is_risk(node)
    ]
    assert wrong == []


def is_risk(node: ast.FunctionDef) -> bool:
    """Return whether a function is a risk, whose docstring says when it is one."""
    return any(ast.unparse(each).startswith("risk(") for each in node.decorator_list)


def test_whoever_raises_says_so() -> None:
    wrong = [
        name
        for name, node, _ in every(*PHYSICS)
        if any(isinstance(each, ast.Raise) and each.exc is not None for each in ast.walk(node))
        and "Raises" not in (ast.get_docstring(node) or "")
    ]
    assert wrong == []


def test_every_function_of_the_physics_has_an_example() -> None:
    wrong = [
        name
        for name, node, method in every(*PHYSICS)
        if not method and ">>> " not in (ast.get_docstring(node) or "")
    ]
    assert wrong == []


@pytest.mark.parametrize("name", [each for each in scaleup.__all__ if each != "__version__"])
def test_every_exported_name_has_an_example(name: str) -> None:
    assert ">>> " in (inspect.getdoc(getattr(scaleup, name)) or "")


@pytest.mark.parametrize("name", ANSWERS)
def test_every_answer_tells_its_parameters_and_its_faults(name: str) -> None:
    function = getattr(scaleup, name)
    text = inspect.getdoc(function) or ""
    told, _, faults = text.partition("Parameters\n")[2].partition("Raises\n")
    assert "InputError" in faults
    for parameter in inspect.signature(function).parameters:
        assert parameter in told, parameter
