"""`fit_many` as a map over the partitions of a frame that is spread over processes or machines.

Each run must lie in one partition as a whole: shuffle or repartition by the run's name first. Benches, limits and laws
travel to the workers by pickling.

Examples
--------
With Dask (extra ``dask``), ``readings`` being a Dask frame of run, time_s and gauge_pa::

    lazy = readings.shuffle("run").map_partitions(fit_partition, bench=bench, meta=result_meta())

With Spark, ``readings`` being a Spark frame of the same columns::

    fitted = functools.partial(fit_batches, bench=bench)
    results = readings.repartition("run").mapInArrow(fitted, result_ddl())
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._core import fit_many, result_schema
from ._extras import needed

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    # Private, since they are not there at run time.
    import pandas as _pd
    import pyarrow as _pa

    from ._core import Bench

__all__ = ["fit_batches", "fit_partition", "result_ddl", "result_meta"]


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
    pa = needed("pyarrow", "dask", "fit_partition")
    # A partition without rows has no types to tell its columns by.
    table = pa.Table.from_pandas(partition, preserve_index=False)
    if table.num_rows == 0:
        return result_meta()
    frame: _pd.DataFrame = fit_many(table, bench, **options).to_pandas().astype(result_meta().dtypes)
    return frame


def fit_batches(
    batches: Iterable[_pa.RecordBatch], *, bench: Bench | Mapping[str, Bench], **options: Any
) -> Iterator[_pa.RecordBatch]:
    """Fit the runs of one partition that comes as Arrow batches, as Spark's ``mapInArrow`` hands it over.

    Parameters
    ----------
    batches : iterable of pyarrow.RecordBatch
        Readings in long format, each run as a whole in the partition, though it may go on in the next batch.
    bench, **options
        As those of `fit_many`.

    Yields
    ------
    pyarrow.RecordBatch
        The table of `fit_many`; nothing for a partition without rows.

    Raises
    ------
    Error
        As `fit_many`.

    Examples
    --------
    >>> import pyarrow as pa
    >>> readings = pa.table({"run": ["a"] * 4, "time_s": [0.0, 5, 10, 15], "gauge_pa": [48300.0, 45500, 42800, 40300]})
    >>> [batch.num_rows for batch in fit_batches(readings.to_batches(max_chunksize=3), bench=bench)]
    [1]
    """
    pa = needed("pyarrow", "arrow", "fit_batches")
    gathered = [batch for batch in batches if batch.num_rows > 0]
    if gathered:
        yield from fit_many(pa.Table.from_batches(gathered), bench, **options).to_batches()


def result_ddl() -> str:
    """Give the columns and types of the results as the text that Spark reads a schema from.

    Examples
    --------
    >>> result_ddl()[:31]
    'run string, verdict string, eff'
    """
    return ", ".join(f"{field.name} {field.type}" for field in result_schema())


def result_meta() -> _pd.DataFrame:
    """Give the empty frame that tells a partitioned frame the columns and dtypes of the results.

    Examples
    --------
    >>> result_meta().columns[0]
    'run'
    """
    needed("pandas", "dask", "result_meta")
    frame: _pd.DataFrame = result_schema().empty_table().to_pandas()
    return frame
