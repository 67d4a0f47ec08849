"""`fit_many` over partitions, without a cluster: what an engine hands over is pandas frames, or an iterator of Arrow batches."""

from __future__ import annotations

import functools
import pickle
from collections.abc import Iterator
from typing import Any

import frames
import numpy as np
import pandas as pd
import pyarrow as pa
import pytest

import casetight as ct
from casetight.partitions import fit_batches, fit_partition, result_ddl, result_meta

LIMITS = [ct.Limit.one_psi_a_minute()]
OPTIONS: dict[str, Any] = {"limits": LIMITS, "laws": "orifice", "level": 0.9}


def whole(runs: int, **options: Any) -> pa.Table:
    return ct.fit_many(frames.table(runs), frames.bench(), **(OPTIONS | options))


def test_a_partition_is_what_one_call_gives() -> None:
    got = fit_partition(pd.DataFrame(frames.columns(6)), bench=frames.bench(), **OPTIONS)
    pd.testing.assert_frame_equal(got, whole(6).to_pandas(), check_exact=True)
    # The options make a difference, so that one dropped on the way would show.
    for name, other in (("limits", []), ("laws", None), ("level", 0.95)):
        assert not got.equals(whole(6, **{name: other}).to_pandas())


def test_a_partition_takes_benches_by_name_and_other_columns() -> None:
    benches = {f"run {i}": frames.bench((250 + 10 * i) * 1e-6) for i in range(3)}
    renamed = pd.DataFrame(frames.columns(3)).rename(columns={"run": "r", "time_s": "t", "gauge_pa": "p"})
    got = fit_partition(renamed, bench=benches, run="r", time_s="t", gauge_pa="p")
    pd.testing.assert_frame_equal(got, ct.fit_many(frames.table(3), benches).to_pandas(), check_exact=True)


def spark_hands_over(table: pa.Table, rows: int) -> Iterator[pa.RecordBatch]:
    """Batches one by one, as `mapInArrow` does: an iterator that can be gone through once, with an empty one in it."""
    yield pa.RecordBatch.from_pylist([], schema=table.schema)
    yield from table.to_batches(max_chunksize=rows)


@pytest.mark.parametrize("rows", [1, 7, 24, 1000])
def test_batches_of_any_size_give_what_one_call_gives(rows: int) -> None:
    # As it travels to a worker.
    function = pickle.loads(pickle.dumps(functools.partial(fit_batches, bench=frames.bench(), **OPTIONS)))
    batches = list(function(spark_hands_over(frames.table(5), rows)))
    assert all(isinstance(batch, pa.RecordBatch) for batch in batches)
    got = pa.Table.from_batches(batches)
    assert got.equals(whole(5))
    assert got["verdict"].null_count == 0
    assert not got.equals(whole(5, level=0.95))


def test_a_partition_without_rows_gives_nothing() -> None:
    assert list(fit_batches(iter([]), bench=frames.bench())) == []
    assert list(fit_batches(spark_hands_over(frames.table(1).slice(0, 0), 10), bench=frames.bench())) == []


def test_partitions_together_give_what_one_call_gives() -> None:
    table = frames.table(6)
    runs = np.asarray(table["run"])
    parts = [table.filter(pa.array(np.isin(runs, [f"run {i}", f"run {i + 3}"]))) for i in range(3)]
    got = pa.concat_tables(pa.Table.from_batches(fit_batches(part.to_batches(), bench=frames.bench(), **OPTIONS)) for part in parts)
    assert got.sort_by("run").equals(whole(6).sort_by("run"))


def test_the_ddl_names_sparks_types() -> None:
    """The names that Spark reads a schema from, beside Arrow's types of the results."""
    of_spark = {"string": pa.string(), "double": pa.float64()}
    fields = [field.split(" ") for field in result_ddl().split(", ")]
    assert [(name, of_spark[kind]) for name, kind in fields] == [(field.name, field.type) for field in ct.result_schema()]


def test_the_meta_has_the_columns_and_dtypes() -> None:
    meta = result_meta()
    assert len(meta) == 0 and list(meta.columns) == ct.result_schema().names
    got = fit_partition(pd.DataFrame(frames.columns(2)), bench=frames.bench())
    assert got.dtypes.equals(meta.dtypes)
    # A partition whose runs all fail has the same dtypes.
    one = fit_partition(pd.DataFrame(frames.columns(1)).iloc[:1], bench=frames.bench())
    assert one["error"].notna().all() and one.dtypes.equals(meta.dtypes)
