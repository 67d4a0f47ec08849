"""`fit_many` as a map over the partitions of a frame that is spread over processes or machines (extra ``dask``).

Each run must lie in one partition as a whole: shuffle or repartition by the run's name first. Benches, limits and laws
travel to the workers by pickling.

Examples
--------
With Dask, ``readings`` being a Dask frame of run, time_s and gauge_pa::

    lazy = readings.shuffle("run").map_partitions(fit_partition, bench=bench, meta=result_meta())

With Spark, whose ``mapInArrow`` hands over batches of a partition::

    def fit_batches(batches):
        yield from fit_many(pyarrow.Table.from_batches(list(batches)), bench).to_batches()

    results = readings.repartition("run").mapInArrow(fit_batches, schema)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._core import fit_many, result_schema

if TYPE_CHECKING:
    from collections.abc import Mapping

    # Private, since it is not there at run time.
    import pandas as _pd

    from ._core import Bench

__all__ = ["fit_partition", "result_meta"]


def fit_partition(partition: _pd.DataFrame, *, bench: Bench | Mapping[str, Bench], **options: Any) -> _pd.DataFrame:
    """Fit the runs of one pandas partition.

    Parameters
    ----------
    partition : pandas.DataFrame
        Readings in long format, each run as a whole.
    bench, **options
        As those of `fit_many`.

    Returns
    -------
    pandas.DataFrame
        The table of `fit_many`, with the dtypes of `result_meta`.

    Raises
    ------
    Error
        As `fit_many`.

    Examples
    --------
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"run": "a", "time_s": [0.0, 5, 10, 15], "gauge_pa": [48300.0, 45500, 42800, 40300]})
    >>> fit_partition(frame, bench=bench)["run"].tolist()
    ['a']
    """
    import pyarrow as pa

    # A partition without rows has no types to tell its columns by.
    table = pa.Table.from_pandas(partition, preserve_index=False)
    if table.num_rows == 0:
        return result_meta()
    frame: _pd.DataFrame = fit_many(table, bench, **options).to_pandas().astype(result_meta().dtypes)
    return frame


def result_meta() -> _pd.DataFrame:
    """Give the empty frame that tells a partitioned frame the columns and dtypes of the results.

    Examples
    --------
    >>> result_meta().columns[0]
    'run'
    """
    frame: _pd.DataFrame = result_schema().empty_table().to_pandas()
    return frame
