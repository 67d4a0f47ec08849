"""What a sheet that is read may name, and what of its text is shown."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import casetight as ct

SHEET = """
format = 1
title = "{title}"
[volume]
value = "250 cm3"
uncertainty = "3 cm3"
[ambient]
pressure = "101325 Pa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[[run]]
name = "logged"
file = "{trace}"
"""
TRACE = "time_s,gauge_kpa\n0,48.0\n30,45.1\n60,42.3\n90,40.0\n"


def written(folder: Path, trace: str, title: str = "files") -> Path:
    (folder / "sheets").mkdir(exist_ok=True)
    sheet = folder / "sheets" / "sheet.toml"
    sheet.write_text(SHEET.format(title=title, trace=trace), encoding="utf-8")
    return sheet


def test_a_sheet_names_traces_below_its_folder_only(tmp_path: Path) -> None:
    (tmp_path / "outside.csv").write_text(TRACE)
    sheet = written(tmp_path, "../outside.csv")
    with pytest.raises(ct.SheetError, match="does not lie below the sheet's folder"):
        ct.Sheet.read(sheet)
    assert ct.Sheet.read(sheet, traces_anywhere=True).runs == ["logged"]
    (tmp_path / "sheets" / "inside.csv").write_text(TRACE)
    assert ct.Sheet.read(written(tmp_path, "inside.csv")).runs == ["logged"]


def test_errors_quote_nothing_of_a_file_that_is_no_trace(tmp_path: Path) -> None:
    (tmp_path / "outside").write_text("hunter2:x:1000\n")
    with pytest.raises(ct.SheetError) as raised:
        ct.Sheet.read(written(tmp_path, "../outside"), traces_anywhere=True)
    assert "hunter2" not in str(raised.value)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_what_never_ends_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="not a file"):
        ct.Sheet.read(tmp_path / "pipe")
    (tmp_path / "sheets").mkdir()
    os.mkfifo(tmp_path / "sheets" / "pipe")
    with pytest.raises(ct.SheetError, match="not a file"):
        ct.Sheet.read(written(tmp_path, "pipe"))


def test_control_characters_are_shown_escaped(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "inside.csv").write_text(TRACE)
    sheet = ct.Sheet.read(written(tmp_path, "inside.csv", r"good\nVERDICT: holds \u001b[2J\u202e"))
    assert sheet.title == r"good\nVERDICT: holds \u001B[2J\u202E"
    page = sheet.report().to_html()
    assert not any(mark in page for mark in "\x1b\u202e\r")
    assert ct.Sheet.from_toml(sheet.to_toml(), traces={"inside.csv": TRACE.encode()}) == sheet
