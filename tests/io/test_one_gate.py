"""Nothing in the package opens, copies, renames or removes a file but the two gates.

Read from the source: calls by the names that do it. A call that is no such thing, or that is given
what a gate has opened, is listed with its reason.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "scaleup"
READING, WRITING, STAGING = (f"io/{name}.py" for name in ("reading_gate", "writing", "staging"))
NAMES = {
    "open", "fdopen", "read_text", "read_bytes", "write_text", "write_bytes", "unlink", "rename",
    "mkdir", "makedirs", "rmdir", "rmtree", "touch", "symlink_to", "hardlink_to", "chmod",
    "copy2", "copyfile", "copytree", "copyfileobj", "move", "read_csv", "read_excel", "ExcelFile",
    "load_workbook", "ZipFile", "ParquetFile", "read_table", "open_csv", "savefig", "save",
    "to_csv", "to_excel", "fromfile", "loadtxt", "genfromtxt", "memmap", "mkstemp",
    "NamedTemporaryFile", "TemporaryDirectory", "FileIO", "to_parquet", "OSFile", "memory_map",
}  # fmt: skip
OF_MODULES = {"os": {"replace", "remove", "link", "symlink", "truncate"}, "shutil": {"copy"},
              "np": {"load", "save", "savetxt"}}  # fmt: skip
ALLOWED = {
    ("io/log_text.py", "open_csv"): "is given what the gate has opened",
    ("io/log_parquet.py", "ParquetFile"): "is given what the gate has opened",
    ("io/workbook.py", "load_workbook"): "is given bytes",
    ("io/workbook_guard.py", "ZipFile"): "is given bytes",
    ("io/workbook_guard.py", "open"): "a part of those bytes",
    ("io/workbook_writing.py", "ZipFile"): "makes bytes",
    ("io/workbook_writing.py", "save"): "makes bytes",
    ("show/drawing.py", "savefig"): "makes bytes",
    ("show/printing.py", "TemporaryDirectory"): "where a browser prints to",
    ("cli/streams.py", "open"): "the null device in the place of a closed stream",
}


def calls(path: Path) -> list[str]:
    """Return the names of the calls in a module that touch files."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        called = node.func
        if isinstance(called, ast.Name) and called.id in NAMES:
            found.append(called.id)
        elif isinstance(called, ast.Attribute):
            home = called.value.id if isinstance(called.value, ast.Name) else ""
            if called.attr in NAMES or called.attr in OF_MODULES.get(home, ()):
                found.append(called.attr)
    return found


MODULES = sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("module", [name for name in MODULES if name not in {READING, STAGING}])
def test_no_other_module_touches_files(module: str) -> None:
    gates = {"read_bytes"}  # of the reading gate, by its own name
    if module == WRITING:
        gates |= {"mkdir", "rename", "rmtree"}  # of the folder that is staged
    others = [
        name
        for name in calls(PACKAGE / module)
        if name not in gates and (module, name) not in ALLOWED
    ]
    assert not others


def test_read_bytes_is_only_the_gate_s_own() -> None:
    for module in MODULES:
        for node in ast.walk(ast.parse((PACKAGE / module).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                assert node.func.attr != "read_bytes", module


def test_what_is_allowed_is_there() -> None:
    for module, name in ALLOWED:
        assert name in calls(PACKAGE / module), (module, name)


def test_the_check_can_fail(tmp_path: Path) -> None:
    text = "import os\nopen('x')\nPath('x').write_text('')\nos.replace(1, 2)\n"
    (tmp_path / "bad.py").write_text(text)
    assert calls(tmp_path / "bad.py") == ["open", "write_text", "replace"]
