"""Past one machine with Spark: `fit_many` as a map over the partitions of a local session with two workers.

Spark and the Java that it needs are not among the tests' requirements (bindings/README.md says how to run this file).
"""

from __future__ import annotations

import functools
import shutil
import sys
from collections.abc import Iterator
from typing import Any

import frames
import pandas as pd
import pytest

import casetight as ct
from casetight.partitions import fit_batches, result_ddl

sql = pytest.importorskip("pyspark.sql")

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("java") is None, reason="Spark needs Java"),
    # Spark's own sockets and the pandas that it was written for.
    pytest.mark.filterwarnings("default"),
]

RUNS = 40


@pytest.fixture(scope="module")
def session() -> Iterator[Any]:
    builder = sql.SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false")
    # Batches smaller than a run: a run then goes on in the next one.
    builder = builder.config("spark.sql.execution.arrow.maxRecordsPerBatch", "10")
    with pytest.MonkeyPatch.context() as patch:
        # Else the workers are those of the first Python on the path.
        patch.setenv("PYSPARK_PYTHON", sys.executable)
        session = builder.getOrCreate()
        yield session
        session.stop()


def test_a_session_gives_what_one_call_gives(session: Any) -> None:
    readings = session.createDataFrame(pd.DataFrame(frames.columns(RUNS))).repartition(4, "run")
    fitted = functools.partial(fit_batches, bench=frames.bench())
    got = readings.mapInArrow(fitted, result_ddl()).toPandas().sort_values("run", ignore_index=True)
    wanted = ct.fit_many(frames.table(RUNS), frames.bench()).to_pandas().sort_values("run", ignore_index=True)
    pd.testing.assert_frame_equal(got, wanted, check_exact=True, check_dtype=False)
