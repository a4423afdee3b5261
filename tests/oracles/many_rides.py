#!/usr/bin/env python3
"""Runs the statement of DuckDB that docs/recording.md shows over a folder of rides, and compares it with pandas.

Usage: many_rides.py FOLDER

Exit 1 with a sentence for each thing that is not the same. Needs duckdb and pandas.
"""

import os
import re
import sys
from pathlib import Path

import duckdb
import pandas as pd

PAGE = Path(__file__).resolve().parents[2] / "docs" / "recording.md"
MEANS = ["power_w", "cadence_rpm", "heart_rate_bpm"]


def main(arguments):
    if len(arguments) != 1:
        print(__doc__)
        return 2
    [statement] = re.findall(r"```sql\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    os.chdir(arguments[0])
    found = duckdb.sql(statement).df()

    rides = []
    for path in sorted(Path().glob("*/samples.csv")):
        rows = pd.read_csv(path, dtype={name: float for name in MEANS})
        rides.append(rows.assign(ride=path.parent.name))
    rows = pd.concat(rides)
    grouped = rows.groupby(["ride", "block", "kind"], as_index=False)
    wanted = grouped.agg(seconds=("ridden_s", "size"), **{name: (name, "mean") for name in MEANS})
    wanted = wanted.sort_values(["ride", "block"]).reset_index(drop=True)

    wrong = []
    if list(found.columns) != list(wanted.columns) or len(found) != len(wanted):
        wrong.append(f"DuckDB gives {found.shape} with {list(found.columns)}, pandas {wanted.shape} with {list(wanted.columns)}")
    else:
        for name in found.columns:
            if name in MEANS:
                a, b = found[name].astype(float), wanted[name]
                same = ((a - b).abs() < 1e-9 * b.abs().clip(lower=1)) | (a.isna() & b.isna())
            else:
                same = found[name] == wanted[name]
            for at in same.index[~same]:
                wrong.append(f"row {at}, {name}: DuckDB gives {found[name][at]}, pandas {wanted[name][at]}")
    for sentence in wrong:
        print(sentence)
    if not wrong:
        print(f"{len(rides)} rides in one statement: {len(found)} blocks, the same in DuckDB and in pandas.")
    return 1 if wrong or not rides else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
