#!/usr/bin/env bash
# check.sh VENV FOLDER: reads FOLDER/rows.parquet with polars and with DuckDB, and holds what they find
# to FOLDER/rows.csv. Ends with 77 where they cannot be had.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
if ! [ -x "$1/bin/python" ] || ! "$1/bin/python" -c 'import duckdb, polars' 2>/dev/null; then
    { python3 -m venv --clear "$1" &&
        "$1/bin/pip" install -q --disable-pip-version-check --retries 1 --timeout 10 polars duckdb; } ||
        { echo "left out: polars and DuckDB cannot be had here"; exit 77; }
fi
"$1/bin/python" "$here/check.py" "$2"
