"""Writes the compiled module's docstrings into its stub, where editors look for them: ``python stub_docstrings.py``."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from casetight import _core

STUB = Path(__file__).resolve().parents[1] / "python" / "casetight" / "_core.pyi"
_Documented = ast.ClassDef | ast.FunctionDef


def with_docstrings(stub: str) -> str:
    """Give the stub's text with each docstring as the compiled module has it."""
    lines = stub.splitlines()
    # From the end, so that the places before stay what they are.
    for node, thing in sorted(_documented(ast.parse(stub), _core), key=lambda pair: -pair[0].lineno):
        _write(lines, node, inspect.getdoc(thing) if thing is not None else None)
    return "\n".join(lines) + "\n"


def _documented(tree: ast.Module | ast.ClassDef, owner: Any) -> Iterator[tuple[_Documented, Any]]:
    """Each class and function of the stub with what it stands for; of overloads the first has the text."""
    told: set[str] = set()
    for node in tree.body:
        if not isinstance(node, ast.ClassDef | ast.FunctionDef) or not hasattr(owner, node.name):
            continue
        # What every class has says nothing of this one; the class says how it is made.
        plain = node.name.startswith("__") or node.name == "_repr_html_"
        if not plain:
            thing = inspect.getattr_static(owner, node.name)
            # What is static is documented as what it calls.
            thing = getattr(thing, "__func__", thing)
            yield node, thing if node.name not in told else None
        told.add(node.name)
        if isinstance(node, ast.ClassDef):
            yield from _documented(node, getattr(owner, node.name))


def _write(lines: list[str], node: _Documented, text: str | None) -> None:
    first = node.body[0]
    indent = " " * (node.col_offset + 4)
    # A stub's body is on the line of its colon where there is nothing but `...`.
    end = first.lineno - 1
    if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str):
        assert first.end_lineno is not None
        del lines[end : first.end_lineno]
        if len(node.body) == 1 and not text:
            lines[end - 1] += " ..."
        place = end
    elif isinstance(first, ast.Expr) and len(node.body) == 1:
        if not text:
            return
        lines[end] = lines[end].removesuffix(" ...")
        place = end + 1
    else:
        place = end
        # Decorators and comments belong to what they stand above.
        if getattr(first, "decorator_list", None):
            place = first.decorator_list[0].lineno - 1  # type: ignore[attr-defined]
        while lines[place - 1].lstrip().startswith("#"):
            place -= 1
    if not text:
        return
    body = text.replace("\\", "\\\\").replace('"""', r"\"\"\"").splitlines()
    written = [f'{indent}"""{body[0]}', *(f"{indent}{line}".rstrip() for line in body[1:])]
    if len(body) == 1:
        written[0] += '"""'
    else:
        written.append(f'{indent}"""')
    lines[place:place] = written


if __name__ == "__main__":
    STUB.write_text(with_docstrings(STUB.read_text(encoding="utf-8")), encoding="utf-8")
