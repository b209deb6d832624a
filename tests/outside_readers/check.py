"""Holds rows.parquet of a folder, as polars and DuckDB read it, to rows.csv beside it."""

import csv
import math
import sys
from pathlib import Path

import duckdb
import polars

folder = Path(sys.argv[1])
parquet = folder / "rows.parquet"
with open(folder / "rows.csv", newline="", encoding="utf-8") as file:
    header, *expected = list(csv.reader(file))


def same(value, text):
    """Whether a value is what a cell of CSV says. Empty stands for none and for what never ends."""
    if value is None or isinstance(value, float) and math.isinf(value):
        return text == ""
    if isinstance(value, bool):
        return text == str(value).lower()
    if isinstance(value, (int, float)):
        return not math.isnan(value) and text != "" and float(text) == value
    return text == value


def held(reader, names, types, rows):
    """Compares all of it, and says how much there was of what."""
    assert names == header, (reader, names)
    assert len(rows) == len(expected), (reader, len(rows))
    seen = {"nulls": 0, "numbers": 0, "texts": 0, "infinite": 0}
    for row, cells in zip(rows, expected, strict=True):
        for name, value, text in zip(names, row, cells, strict=True):
            assert same(value, text), (reader, name, value, text)
            if value is None:
                seen["nulls"] += 1
            elif isinstance(value, str):
                seen["texts"] += 1
            elif math.isinf(value):
                seen["infinite"] += 1
            else:
                seen["numbers"] += 1
    assert all(seen.values()), (reader, seen)
    assert types["pack.parallel"] == "whole" and types["motor.mass_kg"] == "number", types
    assert types["build.name"] == "text" and types["problem"] == "text", types
    print(f"{reader}: {len(rows)} rows as in the CSV, {seen}")


frame = polars.read_parquet(parquet)
kinds = {polars.Int64: "whole", polars.Float64: "number", polars.String: "text"}
types = {name: kinds[type(kind) if type(kind) in kinds else kind] for name, kind in frame.schema.items()}
held(f"polars {polars.__version__}", frame.columns, types, frame.rows())

found = duckdb.sql(f"select * from read_parquet('{str(parquet).replace(chr(39), chr(39) * 2)}')")
kinds = {"BIGINT": "whole", "DOUBLE": "number", "VARCHAR": "text"}
types = {name: kinds[str(kind)] for name, kind in zip(found.columns, found.types, strict=True)}
held(f"DuckDB {duckdb.__version__}", found.columns, types, found.fetchall())
