"""What stands in the package besides its code, and what it says where something it can use is not installed."""

from __future__ import annotations

import email
import importlib.metadata
import subprocess
import sys
from typing import Any

import pytest
from conftest import ROOT

PROJECT = ROOT / "bindings" / "python"


def metadata() -> Any:
    """As the file says it: other packages patch how it is handed out."""
    text = importlib.metadata.distribution("casetight").read_text("METADATA")
    assert text is not None
    return email.message_from_string(text)


def test_the_license_is_in_the_package() -> None:
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert (PROJECT / "LICENSE").read_text(encoding="utf-8") == text
    assert metadata()["License-Expression"] == "MIT OR Apache-2.0"
    assert metadata().get_all("License-File") == ["LICENSE"]
    files = importlib.metadata.files("casetight") or []
    (inside,) = [file for file in files if file.name == "LICENSE"]
    assert inside.read_text() == text


def test_the_package_describes_itself() -> None:
    assert "two-stroke crankcase" in metadata()["Summary"]
    assert metadata()["Description-Content-Type"].startswith("text/markdown")
    page = metadata().get_payload()
    assert page.strip() == (PROJECT / "README.md").read_text(encoding="utf-8").strip()
    assert "ct.fit(" in page and "cautions" in page


def test_the_extras_are_those_that_errors_name() -> None:
    assert set(metadata().get_all("Provides-Extra")) == {"arrow", "dask", "plot", "units"}


LEAK = """
import sys
sys.modules[{missing!r}] = None
import casetight as ct
bench = ct.Bench(volume_m3=250e-6, ambient_pa=101325.0, temperature_k=293.15, gauge=ct.Gauge.digital(100.0))
leak = ct.fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
{call}
"""


@pytest.mark.parametrize(
    ("missing", "call", "by", "extra"),
    [
        ("matplotlib", "leak.plot()", "plot needs the package matplotlib", "plot"),
        ("pyarrow", "import polars; ct.fit_many(polars.DataFrame({'run': [1]}), bench)", "fit_many needs the package pyarrow", "arrow"),
        ("pyarrow", "ct.result_schema()", "result_schema needs the package pyarrow", "arrow"),
        ("pyarrow", "from casetight.partitions import fit_partition; fit_partition(None, bench=bench)",
         "fit_partition needs the package pyarrow", "dask"),
        ("pyarrow", "from casetight.partitions import fit_batches; list(fit_batches([], bench=bench))",
         "fit_batches needs the package pyarrow", "arrow"),
        ("pandas", "from casetight.partitions import result_meta; result_meta()", "result_meta needs the package pandas", "dask"),
    ],
)  # fmt: skip
def test_a_missing_extra_is_named(missing: str, call: str, by: str, extra: str) -> None:
    code = LEAK.format(missing=missing, call=call)
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert answer.returncode == 1
    assert answer.stderr.strip().splitlines()[-1] == f'ImportError: {by}: pip install "casetight[{extra}]"'
