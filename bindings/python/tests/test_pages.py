"""The pages' code runs from top to bottom."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT

PAGES = [ROOT / "docs" / "src" / "python.md", ROOT / "bindings" / "README.md", ROOT / "bindings" / "python" / "README.md"]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
@pytest.mark.filterwarnings("default")
def test_code_of_pages(page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    names: dict[str, Any] = {}
    blocks = re.findall(r"^```python\n(.*?)^```", page.read_text(), re.MULTILINE | re.DOTALL)
    assert blocks
    for block in blocks:
        exec(compile(block, str(page), "exec"), names)
