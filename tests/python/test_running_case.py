"""The committed table of the running case is what its script writes."""

import contextlib
import io
import pathlib

import running_case

ROOT = pathlib.Path(__file__).resolve().parents[2]


def test_the_table_is_the_scripts():
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        running_case.main()
    kept = (ROOT / "tests/data/running_case.csv").read_text(encoding="utf-8")
    new_lines, kept_lines = out.getvalue().splitlines(), kept.splitlines()
    assert len(new_lines) == len(kept_lines)
    for new, old in zip(new_lines, kept_lines):
        for a, b in zip(new.split(","), old.split(",")):
            try:
                # The last digits may differ with the machine's mathematical library.
                assert abs(float(a) - float(b)) <= 1e-7 * abs(float(b))
            except ValueError:
                assert a == b
