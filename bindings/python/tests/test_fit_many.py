"""Many runs by the Arrow C data interface."""

from __future__ import annotations

import collections
import functools
import os
import signal
import subprocess
import sys
import threading
import time
import types
from collections.abc import Iterator
from typing import Any

import frames
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import casetight as ct

COLUMNS = [
    "run",
    "verdict",
    "effective_area_m2",
    "area_low_m2",
    "area_high_m2",
    "rate_per_s",
    "rate_low_per_s",
    "rate_high_per_s",
    "start_gauge_pa",
    "law",
    "residual_rms_pa",
    "error",
]
LIMITS = [ct.Limit.one_psi_a_minute()]


def test_the_schema_stays() -> None:
    schema = ct.result_schema()
    assert schema.names == COLUMNS
    assert schema.metadata == {b"format": b"1"}
    text = {"run", "verdict", "law", "error"}
    assert all(field.type == (pa.string() if field.name in text else pa.float64()) for field in schema)
    result = ct.fit_many(frames.table(2), frames.bench())
    assert result.schema.equals(schema, check_metadata=True)
    empty = ct.fit_many(frames.table(2).slice(0, 0), frames.bench())
    assert empty.num_rows == 0
    assert empty.schema.equals(schema, check_metadata=True)


def test_each_row_is_what_one_fit_gives() -> None:
    columns = frames.columns(5)
    bench = frames.bench()
    result = ct.fit_many(pa.table(columns), bench, limits=LIMITS).to_pylist()
    assert [row["run"] for row in result] == [f"run {i}" for i in range(5)]
    for row in result:
        mine = columns["run"] == row["run"]
        one = ct.assess(columns["time_s"][mine], columns["gauge_pa"][mine], bench, LIMITS)
        leak = one.fit
        assert leak is not None
        assert row["verdict"] == one.verdict
        assert row["effective_area_m2"] == leak.effective_area_m2.value
        assert row["area_low_m2"] == leak.effective_area_m2.low
        assert row["area_high_m2"] == leak.effective_area_m2.high
        assert row["rate_per_s"] == leak.rate_per_s.value
        assert row["start_gauge_pa"] == leak.start_gauge_pa
        assert row["residual_rms_pa"] == leak.residual_rms_pa
        assert row["law"] == (None if leak.law is None else leak.law.name)
        assert row["error"] is None


def kinds() -> list[Any]:
    columns = frames.columns(4)
    table = pa.table(columns)
    interleaved = table.take(np.argsort(columns["time_s"], kind="stable"))
    chunked = pa.concat_tables([table.slice(i, 13) for i in range(0, table.num_rows, 13)])
    dictionary = table.set_column(0, "run", table["run"].dictionary_encode())
    view = table.set_column(0, "run", table["run"].cast(pa.string_view()))
    return [
        pytest.param(table, id="pyarrow"),
        pytest.param(chunked, id="chunks"),
        pytest.param(dictionary, id="dictionary"),
        pytest.param(view, id="view"),
        pytest.param(interleaved, id="interleaved"),
        pytest.param(table.to_batches()[0], id="record batch"),
        pytest.param(table.to_reader(), id="reader"),
        pytest.param(pd.DataFrame(columns), id="pandas"),
        pytest.param(pd.DataFrame(columns).astype({"run": "category"}), id="pandas category"),
        pytest.param(pl.DataFrame(columns), id="polars"),
        pytest.param(pl.DataFrame(columns).with_columns(pl.col("time_s").cast(pl.Int32)), id="integers"),
    ]


@pytest.mark.parametrize("frame", kinds())
def test_each_kind_of_frame(frame: Any) -> None:
    wanted = ct.fit_many(frames.table(4), frames.bench()).to_pylist()
    got = ct.fit_many(frame, frames.bench()).to_pylist()
    assert sorted(got, key=lambda row: row["run"]) == wanted


def test_runs_by_number_and_columns_by_other_names() -> None:
    columns = frames.columns(2)
    frame = pa.table({"r": np.repeat([7, 3], 24), "t": columns["time_s"], "p": columns["gauge_pa"]})
    result = ct.fit_many(frame, frames.bench(), run="r", time_s="t", gauge_pa="p")
    assert result["run"].to_pylist() == ["7", "3"]


def test_a_bench_for_each_run() -> None:
    both = {"run 0": frames.bench(250e-6), "run 1": frames.bench(500e-6)}
    small, large = ct.fit_many(frames.table(2), both).to_pylist()
    assert large["effective_area_m2"] == pytest.approx(2 * ct.fit_many(frames.table(2), frames.bench())["effective_area_m2"][1].as_py())
    assert small["error"] is None
    missing = ct.fit_many(frames.table(2), {"run 0": frames.bench()}).to_pylist()[1]
    assert missing["error"] == "no bench is given for this run"
    assert missing["effective_area_m2"] is None


def test_a_bad_run_does_not_spoil_the_others() -> None:
    columns = frames.columns(3)
    columns["gauge_pa"][30] = np.nan
    result = ct.fit_many(pa.table(columns), frames.bench(), limits=LIMITS).to_pylist()
    assert [row["error"] is None for row in result] == [True, False, True]
    assert "reading 7" in result[1]["error"]
    assert {result[1][name] for name in COLUMNS[1:-1]} == {None}


def gaps() -> list[Any]:
    def frame(name: str, gap: object) -> pd.DataFrame:
        made = pd.DataFrame(frames.columns(3)).astype({name: object} if gap is None else {})
        made.loc[30, name] = gap
        return made

    spans = pd.DataFrame(frames.columns(3)).assign(time_s=lambda made: pd.to_timedelta(made["time_s"], unit="s"))
    spans.loc[30, "time_s"] = pd.NaT
    nullable = pd.DataFrame(frames.columns(3)).astype({"gauge_pa": "Float64"})
    nullable.loc[30, "gauge_pa"] = pd.NA
    return [
        pytest.param(frame("gauge_pa", np.nan), "the gauge pressure is NaN", id="NaN"),
        pytest.param(frame("time_s", np.nan), "the time is NaN", id="NaN time"),
        pytest.param(frame("gauge_pa", None), "the gauge pressure is NaN", id="None"),
        pytest.param(spans, "the time is NaN", id="NaT"),
        pytest.param(nullable, "the gauge pressure is NaN", id="NA"),
        pytest.param(pl.from_pandas(frame("gauge_pa", np.nan)), "the gauge pressure is NaN", id="polars null"),
    ]


@pytest.mark.parametrize(("frame", "message"), gaps())
def test_a_gap_in_one_run_is_that_runs_error(frame: Any, message: str) -> None:
    rows = ct.fit_many(frame, frames.bench(), limits=LIMITS).to_pylist()
    assert [row["error"] is None for row in rows] == [True, False, True]
    assert f"reading 7: {message}" in rows[1]["error"]
    assert {rows[1][name] for name in COLUMNS[1:-1]} == {None}
    whole = ct.fit_many(frames.table(3), frames.bench(), limits=LIMITS).to_pylist()
    assert [rows[0], rows[2]] == [whole[0], whole[2]]


def test_spans_of_time_are_seconds() -> None:
    columns = frames.columns(2)
    for unit in ("s", "ms", "us", "ns"):
        spans = columns | {"time_s": np.asarray(columns["time_s"]).astype("m8[s]").astype(f"m8[{unit}]")}
        assert ct.fit_many(pa.table(spans), frames.bench()).equals(ct.fit_many(pa.table(columns), frames.bench()))


def test_any_mapping_of_benches_will_do() -> None:
    benches = {"run 0": frames.bench(250e-6), "run 1": frames.bench(500e-6)}
    wanted = ct.fit_many(frames.table(2), benches)
    for mapping in (types.MappingProxyType(benches), collections.ChainMap({}, benches), collections.UserDict(benches)):
        assert ct.fit_many(frames.table(2), mapping).equals(wanted)


@pytest.mark.parametrize(
    ("frame", "error", "message"),
    [
        (pa.table({"run": ["a"], "time_s": [0.0]}), ct.Error, 'no column "gauge_pa"; its columns are run, time_s'),
        (pa.table({"run": ["a"], "time_s": [None], "gauge_pa": [1.0]}), ct.Error, '"time_s" is of type Null'),
        (pa.table({"run": [None, "a"], "time_s": [0.0, 1.0], "gauge_pa": [1.0, 2.0]}), ct.Error, '"run" has no value in row 0'),
        (pa.table({"run": [0.5], "time_s": [0.0], "gauge_pa": [1.0]}), ct.Error, "text or a whole number"),
        (pa.table({"run": ["a"], "time_s": ["0"], "gauge_pa": [1.0]}), ct.Error, "real numbers"),
        (pa.table({"run": ["a"], "time_s": pa.array([0], pa.timestamp("s")), "gauge_pa": [1.0]}), ct.Error,
         r'Timestamp.*write frame\["time_s"\] = \(frame\["time_s"\] - frame\["time_s"\].min\(\)\).dt.total_seconds\(\)'),
        ({"run": ["a"]}, ct.Error, "__arrow_c_stream__"),
        (None, ct.Error, "__arrow_c_stream__"),
    ],
)  # fmt: skip
def test_bad_frames(frame: Any, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        ct.fit_many(frame, frames.bench())


def test_bad_level() -> None:
    with pytest.raises(ct.FitError, match="0.5 to 0.9999"):
        ct.fit_many(frames.table(1), frames.bench(), level=2.0)


def test_an_open_interval_ends_at_infinity() -> None:
    columns = frames.columns(1)
    columns["gauge_pa"][1:] = 100.0
    (row,) = ct.fit_many(pa.table(columns), frames.bench()).to_pylist()
    assert row["error"] is None
    assert row["area_high_m2"] == row["rate_high_per_s"] == np.inf
    assert 0.0 < row["area_low_m2"] < row["effective_area_m2"]


def test_progress_is_told_and_may_stop() -> None:
    told: list[tuple[int, int]] = []
    ct.fit_many(frames.table(600), frames.bench(), laws="orifice", progress=lambda done, of: told.append((done, of)))
    assert told == [(256, 600), (512, 600), (600, 600)]

    told.clear()
    ct.fit_many(frames.table(20, 10_000), frames.bench(), laws="orifice", progress=lambda done, of: told.append((done, of)))
    assert len(told) > 2 and told[-1] == (20, 20)

    def stop(done: int, of: int) -> None:
        raise StopIteration(f"{done} of {of}")

    with pytest.raises(StopIteration, match="256 of 600"):
        ct.fit_many(frames.table(600), frames.bench(), laws="orifice", progress=stop)


@pytest.mark.skipif(os.name == "nt", reason="no such signal")
def test_the_keyboard_interrupts(request: pytest.FixtureRequest) -> None:
    # Whoever starts the tests in the background may have set the signal aside.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    request.addfinalizer(lambda: signal.signal(signal.SIGINT, before))
    frame = frames.table(60_000)
    threading.Timer(0.2, os.kill, (os.getpid(), signal.SIGINT)).start()
    begun = time.perf_counter()
    with pytest.raises(KeyboardInterrupt):
        ct.fit_many(frame, frames.bench())
    assert time.perf_counter() - begun < 5.0


@pytest.fixture
def patient() -> Iterator[None]:
    """Python takes the interpreter from no thread that does not let go of it: another one runs where it is let go of."""
    interval = sys.getswitchinterval()
    sys.setswitchinterval(1000.0)
    yield
    sys.setswitchinterval(interval)


def long_run(readings: int = 2_000_000) -> tuple[Any, Any]:
    time_s = np.linspace(0.0, 100.0, readings)
    decay = ct.Decay(1e-9, 250e-6, 48e3, ambient_pa=101_325.0, temperature_k=293.15)
    return time_s, decay.gauge_pa(time_s)


@pytest.mark.skipif(os.name == "nt", reason="no such signal")
@pytest.mark.parametrize("call", [ct.fit, ct.assess], ids=["fit", "assess"])
def test_the_keyboard_interrupts_one_long_fit(call: Any, patient: None, request: pytest.FixtureRequest) -> None:
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    request.addfinalizer(lambda: signal.signal(signal.SIGINT, before))
    time_s, gauge_pa = long_run()
    begin = threading.Event()

    def interrupt() -> None:
        begin.wait()
        os.kill(os.getpid(), signal.SIGINT)

    thread = threading.Thread(target=interrupt)
    thread.start()
    # Filled without a step of Python's own between: a fit that went on to its end would stand in it when Python looks.
    found: collections.deque[Any] = collections.deque()
    fits = map(functools.partial(call, gauge_pa=gauge_pa, bench=frames.bench()), [time_s])
    with pytest.raises(KeyboardInterrupt):
        begin.set()
        found.extend(fits)
    thread.join()
    assert not found


def test_other_threads_go_on_during_an_array(patient: None) -> None:
    decay = ct.Decay(1e-9, 250e-6, 48e3, ambient_pa=101_325.0, temperature_k=293.15)
    time_s = np.linspace(0.0, 100.0, 3_000_000)
    begin = threading.Event()
    ran: list[bool] = []

    def run() -> None:
        begin.wait()
        ran.append(True)

    thread = threading.Thread(target=run)
    thread.start()
    begin.set()
    decay.gauge_pa(time_s)
    ran_meanwhile = bool(ran)
    thread.join()
    assert ran_meanwhile


def test_other_threads_go_on() -> None:
    frame = frames.table(4000)
    counted = 0
    done = threading.Event()

    def count() -> None:
        nonlocal counted
        while not done.is_set():
            counted += 1
            time.sleep(0.001)

    thread = threading.Thread(target=count)
    thread.start()
    ct.fit_many(frame, frames.bench())
    done.set()
    thread.join()
    assert counted > 3


def test_importing_is_light() -> None:
    """No array or frame library is loaded before it is needed."""
    code = "import sys, casetight; print(any(m in sys.modules for m in ('numpy', 'pyarrow', 'pandas', 'matplotlib')))"
    answer = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert answer.stdout.strip() == "False"
