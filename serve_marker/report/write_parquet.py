"""The exported columns as a Parquet file, for engines that query many logbooks at once (the extra ``parquet``)."""

from __future__ import annotations

import io
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.report.export_columns import DECIMALS, EXPORT_COLUMNS, Tables, plain_rows
from serve_marker.report.write_files import write_whole

YES_OR_NO = ("aim_hit", "area_sure")
WHOLE_NUMBERS = ("pass_rating",)
PLAIN_NUMBERS = ("effort",)


def write_parquet(table: Tables, path: Path) -> None:
    """Write the exported columns of a serve table, each column of one kind whatever it holds.

    Raises
    ------
    UserError
        Where the library that writes Parquet is not installed.
    """
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise UserError("Parquet needs one more library; install serve-marker with [parquet].") from error
    kinds = {
        **dict.fromkeys(EXPORT_COLUMNS, pyarrow.string()),
        **{name: pyarrow.float64() for name in EXPORT_COLUMNS if name.endswith((*DECIMALS, *PLAIN_NUMBERS))},
        **dict.fromkeys(YES_OR_NO, pyarrow.bool_()),
        **dict.fromkeys(WHOLE_NUMBERS, pyarrow.int64()),
    }
    columns = dict(zip(EXPORT_COLUMNS, zip(*plain_rows(table), strict=True), strict=False))
    cells = {name: pyarrow.array(columns.get(name, ()), kind) for name, kind in kinds.items()}
    content = io.BytesIO()
    pyarrow.parquet.write_table(pyarrow.table(cells), content)
    write_whole(content.getvalue(), path)
