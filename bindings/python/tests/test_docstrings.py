"""The docstrings' examples run, and nothing public is without its docstring."""

from __future__ import annotations

import doctest
import inspect
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import stub_docstrings
from conftest import DEMO

import casetight
from casetight import partitions

# Members that a name explains, or a class's own example shows.
WITHOUT_EXAMPLE = {"plot", "dry_air", "orifice", "laminar", "sonic", "power", "keys", "Interval.to_dict"}
RESULTS = {"Decision", "Interval", "LawWeight", "LeakLaw", "Fit", "Regime", "RunAssessment"}


def documented() -> Iterator[tuple[str, Any]]:
    yield "fit_partition", partitions.fit_partition
    yield "result_meta", partitions.result_meta
    yield "fit_batches", partitions.fit_batches
    yield "result_ddl", partitions.result_ddl
    for name in casetight.__all__:
        thing = getattr(casetight, name)
        if name == "__version__" or inspect.isclass(thing) and issubclass(thing, Exception):
            continue
        yield name, thing
        if inspect.isclass(thing):
            for member, value in vars(thing).items():
                if not member.startswith("_"):
                    yield f"{name}.{member}", value


@pytest.mark.parametrize(("name", "thing"), [pytest.param(name, thing, id=name) for name, thing in documented()])
def test_example(name: str, thing: Any) -> None:
    thing = thing.__func__ if isinstance(thing, staticmethod) else thing
    text = inspect.getdoc(thing)
    assert text, f"{name} has no docstring"
    names = {public: getattr(casetight, public) for public in casetight.__all__}
    bench = casetight.Bench(
        volume_m3=(250e-6, 5e-6), ambient_pa=101_325.0, temperature_k=293.15, gauge=casetight.Gauge.digital(100.0)
    )
    names |= {name: getattr(partitions, name) for name in partitions.__all__}
    names |= {"np": np, "demo": DEMO, "bench": bench}
    example = doctest.DocTestParser().get_doctest(text, names, name, None, None)
    is_value = inspect.isdatadescriptor(thing)
    plain = is_value or name in RESULTS or name in WITHOUT_EXAMPLE or name.split(".")[-1] in WITHOUT_EXAMPLE
    assert example.examples or plain, f"{name} has no example"
    told: list[str] = []
    result = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(example, out=told.append)
    assert result.failed == 0, "".join(told)


def test_the_stub_has_the_docstrings() -> None:
    """An editor shows what stands in the stub; `stub_docstrings.py` beside this file writes it anew."""
    text = stub_docstrings.STUB.read_text(encoding="utf-8")
    assert stub_docstrings.with_docstrings(text) == text
    assert text.count('"""') > 400


def test_the_modules_own_text() -> None:
    assert "SI units" in (casetight.__doc__ or "")
