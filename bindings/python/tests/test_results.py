"""Results as objects, documents, tables and pictures; sheets."""

from __future__ import annotations

import json
import os
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from conftest import DEMO

import casetight as ct

SHEETS = sorted(DEMO.glob("*.toml"))


def leak(bench: ct.Bench, size: float = 1e-9) -> ct.Fit:
    time_s = np.arange(0.0, 240.0, 10.0)
    decay = ct.Decay(size, 250e-6, 48e3, ambient_pa=101_325.0, temperature_k=293.15)
    return ct.fit(time_s, bench.gauge.rounded(decay.gauge_pa(time_s)), bench)


def test_a_fit_is_its_document(bench: ct.Bench) -> None:
    found = leak(bench)
    document = found.to_dict()
    assert json.loads(found.to_json()) == document == json.loads(found.to_json(indent=True))
    assert document["effective_area_m2"] == found.effective_area_m2.to_dict()
    assert [row["reading_pa"] for row in document["residuals"]] == found.reading_pa.tolist()
    assert {part["part"]: part["standard_uncertainty_m2"] for part in document["parts"]} == found.parts
    # Asked alone, each moment is reached in other steps, all good to some 0.03 Pa.
    assert found.reading_at(found.time_s) == pytest.approx(found.fitted_pa, abs=0.05)


def test_words_and_tables(bench: ct.Bench) -> None:
    found = leak(bench)
    assert repr(found).startswith("<Fit: pressure, effective area 10")
    html = found._repr_html_()
    assert "<table>" in html and "effective area (CdA)" in html
    run = ct.assess(found.time_s, found.reading_pa, bench, name="<b>&")
    assert "&lt;b&gt;&amp;" in run._repr_html_()
    assert run.verdict is None and run.decisions == []


def test_the_rig_is_taken_off(bench: ct.Bench) -> None:
    whole, rig = leak(bench), leak(bench, 2e-10)
    left = whole.less(rig)
    assert left.effective_area_m2.value == pytest.approx(8e-10, rel=0.05)
    assert left.rig_area_m2 is not None and left.parts["rig"] > 0.0


@pytest.fixture
def program() -> str:
    """The command line program, where the tests are told where it is."""
    found = os.environ.get("CASETIGHT_BIN", "")
    if not found:
        pytest.skip("CASETIGHT_BIN is not set")
    return found


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_sheet_gives_the_programs_documents(program: str, path: Path) -> None:
    def said(command: str) -> object:
        answer = subprocess.run([program, command, str(path), "--json"], capture_output=True, text=True)
        return json.loads(answer.stdout) if answer.stdout else None

    sheet = ct.Sheet.read(str(path))
    assert sheet.assess().to_dict() == said("assess")
    for command, call in (("plan", sheet.plan), ("isolate", sheet.isolate), ("running", sheet.running)):
        wanted = said(command)
        if wanted is None:
            with pytest.raises(ct.Error):
                call()
        else:
            assert call().to_dict() == wanted


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_report_is_the_programs_page(program: str, path: Path, tmp_path: Path) -> None:
    ours, its = tmp_path / "ours.html", tmp_path / "its.html"
    before = path.with_name(path.name.replace("repaired", "before"))
    compared = before != path and before.is_file()
    report = ct.Sheet.read(path).report(ct.Sheet.read(before) if compared else None)
    report.write(ours)
    options = ["--before", str(before)] if compared else []
    answer = subprocess.run([program, "report", str(path), "--out", str(its), *options], capture_output=True, text=True)
    assert its.read_bytes() == ours.read_bytes() == report.to_html().encode(), answer.stderr
    assert answer.returncode == {"holds": 0, "leaks": 1}.get(str(report.verdict), 3)
    assert ("Before and after" in report.to_html()) == compared
    if os.name == "posix":
        assert ours.stat().st_mode & 0o777 == its.stat().st_mode & 0o777


class Frame(HTMLParser):
    """The attributes of a notebook's frame."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_a_notebook_shows_the_page_in_a_frame() -> None:
    text = (DEMO / "mist-blower-14.toml").read_text(encoding="utf-8")
    title = """a "title" & <b>'more'</b>"""
    sheet = ct.Sheet.from_toml(text.replace('"Mist blower 14, sound"', f"'''{title}'''"))
    report = sheet.report()
    assert report.title == title
    frame = Frame()
    frame.feed(report._repr_html_())
    [(tag, attributes)] = frame.found
    assert tag == "iframe"
    assert attributes["srcdoc"] == report.to_html()
    assert attributes["title"] == f"{title}, crankcase leak test"
    # Nothing in the frame may run.
    assert attributes["sandbox"] is None


def test_a_report_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    report = ct.Sheet.read(DEMO / "mist-blower-14.toml").report()
    with pytest.raises(FileNotFoundError):
        report.write(tmp_path / "no" / "such" / "page.html")
    taken = tmp_path / "taken"
    taken.mkdir()
    with pytest.raises(OSError, match="only a file is replaced"):
        report.write(taken)
    assert list(tmp_path.iterdir()) == [taken]
    page = tmp_path / "page.html"
    page.write_text("old")
    report.write(str(page))
    assert page.read_text(encoding="utf-8") == report.to_html()


def test_the_running_engine_is_its_document() -> None:
    running = ct.Sheet.read(DEMO / "string-trimmer-6.toml").running()
    document = running.to_dict()
    assert json.loads(running.to_json()) == document == json.loads(running.to_json(indent=True))
    assert document["estimate"] is True and document["assumptions"] == running.assumptions
    assert (running.inward_run, running.outward_run) == (document["inward_run"], document["outward_run"])
    assert running.inward_area_m2.to_dict() == document["inward_area_m2"]
    assert running.outward_area_m2.to_dict() == document["outward_area_m2"]
    for load, wanted in zip([running.idle, running.full_throttle], document["loads"], strict=True):
        assert load.to_dict() == wanted
        for name in ("name", "speed_hz", "delivery_ratio", "delivered_kg", "lowest_gauge_pa", "highest_gauge_pa"):
            assert getattr(load, name) == wanted[name]
        for name in ("leaked_in_kg", "leaked_out_kg", "lean_shift"):
            assert getattr(load, name).to_dict() == wanted[name]
        assert load.shares == {share["from"]: (share["down"], share["up"]) for share in wanted["shares"]}
        angle_rad, gauge_pa = load.over_a_turn(36)
        assert np.degrees(angle_rad) == pytest.approx([row["after_top_deg"] for row in wanted["turn"]])
        assert gauge_pa == pytest.approx([row["gauge_pa"] for row in wanted["turn"]], rel=1e-9, abs=1e-6)


def test_the_running_engine_in_words() -> None:
    running = ct.Sheet.read(DEMO / "string-trimmer-6.toml").running()
    assert repr(running).startswith("<Mixture, an estimate: idle leaner by ")
    assert repr(running.idle).endswith("an estimate>")
    html = running._repr_html_()
    assert "estimate" in html and "taken for granted" in html and "&quot;" not in html
    stalled = ct.Sheet.read(DEMO / "kart-engine-2.toml").running()
    assert np.isinf(stalled.idle.lean_shift.high) and stalled.idle.lean_shift.to_dict()["high"] is None
    assert np.isinf(stalled.idle.shares["the leak"][1])
    assert "at least" in repr(stalled)


def test_a_sheet_written_reads_the_same() -> None:
    sheet = ct.Sheet.read(DEMO / "mist-blower-14.toml")
    again = ct.Sheet.from_toml(sheet.to_toml())
    assert again.to_toml() == sheet.to_toml()
    assert again.assess().to_json() == sheet.assess().to_json()


def test_traces_in_memory() -> None:
    text = (DEMO / "ice-auger-7.toml").read_text()
    traces = {path.name: path.read_bytes() for path in DEMO.glob("ice-auger-7-*.csv")}
    held = ct.Sheet.from_toml(text, traces=traces)
    assert held.assess().to_json() == ct.Sheet.read(DEMO / "ice-auger-7.toml").assess().to_json()
    with pytest.raises(ct.SheetError, match="trace"):
        ct.Sheet.from_toml(text)


def test_a_sheets_run_fits_as_the_session_says() -> None:
    sheet = ct.Sheet.read(DEMO / "clearing-saw-3.toml")
    session = sheet.assess()
    assert len(session) == len(sheet.runs) == len(list(session))
    assert session[-1].name == sheet.runs[-1]
    with pytest.raises(IndexError):
        session[99]
    with pytest.raises(KeyError, match="the runs are"):
        sheet.bench("no such run")
    # It leaks, so it says to pump and to spray: each with its cautions.
    assert session.verdict == "leaks" and any("soap" in step for step in session.next)
    said = " ".join(session.cautions)
    assert "Eye protection on" in said and "Blanks can fly" in said and "away from ignition sources" in said
    sound = ct.Sheet.read(DEMO / "mist-blower-14.toml").assess()
    assert sound.verdict == "holds" and sound.cautions == []
    run = session[0]
    time_s, gauge_pa = sheet.readings(run.name)
    assert run.fit is not None
    assert ct.fit(time_s, gauge_pa, sheet.bench(run.name)).to_json() == run.fit.to_json()


def test_a_document_is_a_mapping() -> None:
    plan = ct.Sheet.read(DEMO / "string-trimmer-6.toml").plan()
    assert dict(plan) == plan.to_dict()
    assert "plans" in plan and len(plan) == len(plan.keys())
    with pytest.raises(KeyError, match="nothing"):
        plan["nothing"]
    assert "<table>" in plan._repr_html_()
