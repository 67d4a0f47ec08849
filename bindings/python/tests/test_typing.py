"""The stubs are those of the compiled module, and type checkers accept what the tests and notebooks write."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ROOT

HERE = Path(__file__).resolve().parent
PROJECT = HERE.parent
CHECKED = [str(HERE), str(PROJECT / "python"), str(PROJECT / "benches"), str(ROOT / "docs" / "notebooks")]


def run(*arguments: str) -> None:
    """Run a module of this Python where pyproject.toml is, and show what it says if it fails."""
    answer = subprocess.run([sys.executable, "-m", *arguments], cwd=PROJECT, capture_output=True, text=True)
    assert answer.returncode == 0, answer.stdout + answer.stderr


@pytest.mark.slow
def test_stubs_are_in_step() -> None:
    run("mypy.stubtest", "casetight", "--mypy-config-file", "pyproject.toml")


@pytest.mark.slow
def test_mypy_strict() -> None:
    run("mypy", *[path for path in CHECKED if Path(path).is_dir()])


@pytest.mark.slow
def test_pyright() -> None:
    """By basedpyright, the build of it that needs nothing from outside the package index."""
    run("basedpyright", "--project", "pyproject.toml", "--pythonpath", sys.executable)
