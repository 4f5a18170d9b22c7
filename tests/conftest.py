"""What tests of several folders use."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import settings

from scaleup.cli.threads import THREADS

pytest_plugins = ("tests.studies",)

# As the command line has it: sums shared out over threads end in other last digits. numpy reads
# it when it is first imported, which no test has done yet.
for name in THREADS:
    os.environ.setdefault(name, "1")

# A slow machine is no failure.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.fixture(scope="session")
def radau_twin() -> ModuleType:
    """Return the module with the slow, plain twin of the law."""
    name = "radau_twin"
    path = Path(__file__).parent / "published" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
