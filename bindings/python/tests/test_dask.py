"""Past one machine: `fit_many` as a map over the partitions of a local Dask cluster with two workers."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import frames
import pandas as pd
import pytest

import casetight as ct
from casetight.partitions import fit_partition, result_meta

dask_frame = pytest.importorskip("dask.dataframe")
distributed = pytest.importorskip("distributed")

pytestmark = [
    pytest.mark.slow,
    # The cluster's own threads close their sockets and warn as they see fit.
    pytest.mark.filterwarnings("default"),
]

RUNS = 40


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    )
    with cluster, distributed.Client(cluster) as client:
        yield client


def readings(partitions: int = 8) -> Any:
    """Each run in one partition: the frame is cut where the index changes."""
    frame = pd.DataFrame(frames.columns(RUNS)).set_index("run", drop=False).rename_axis(None)
    order = sorted(frame.index.unique())
    cuts = [order[i * RUNS // partitions] for i in range(partitions)] + [order[-1]]
    return dask_frame.from_pandas(frame.loc[order], npartitions=1).repartition(divisions=cuts, force=True)


def wanted() -> pd.DataFrame:
    frame: pd.DataFrame = ct.fit_many(frames.table(RUNS), frames.bench()).to_pandas()
    return frame.sort_values("run", ignore_index=True)


def got(client: Any, function: Any = fit_partition) -> pd.DataFrame:
    lazy = readings().map_partitions(function, bench=frames.bench(), meta=result_meta())
    frame: pd.DataFrame = client.compute(lazy).result(timeout=120)
    return frame.sort_values("run", ignore_index=True)


def test_a_cluster_gives_what_one_call_gives(client: Any) -> None:
    pd.testing.assert_frame_equal(got(client), wanted(), check_exact=True)


def dies_once(partition: pd.DataFrame, bench: ct.Bench, mark: str) -> pd.DataFrame:
    """The first worker to come here ends at once, as one that ran out of memory does."""
    try:
        os.close(os.open(mark, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return fit_partition(partition, bench=bench)
    os._exit(1)


def test_a_dead_worker_loses_nothing(client: Any, tmp_path: Any) -> None:
    mark = tmp_path / "died"
    lazy = readings().map_partitions(dies_once, bench=frames.bench(), mark=str(mark), meta=result_meta())
    frame: pd.DataFrame = client.compute(lazy, retries=3).result(timeout=120)
    assert mark.exists()
    pd.testing.assert_frame_equal(frame.sort_values("run", ignore_index=True), wanted(), check_exact=True)


def test_an_empty_partition_has_the_columns() -> None:
    empty = pd.DataFrame(frames.columns(1)).iloc[:0]
    pd.testing.assert_frame_equal(fit_partition(empty, bench=frames.bench()), result_meta())
