#!/usr/bin/env python3
"""Works out critical power and W' of ridden threshold tests with SciPy, independently of the program.

Reads tests/data/threshold_rides.csv: seconds that practice riders rode in the blocks of both tests. Writes
tests/data/threshold_values.json, which tests/it/threshold_tests.rs compares with what the program finds. With --check it
writes nothing and fails where the file no longer agrees with the rows.

Two roads lead to the critical power of a step test, and they share nothing but the law t = W'/(P - CP) (Monod & Scherrer
1965; Hill 1993):

- the law itself, on the mean power and the length of each step: the CP at which the work above it is W';
- the live W' balance (Skiba et al. 2015; Skiba & Clarke 2021), second by second on the rows as they were ridden, which
  empties above CP and fills below it: the CP at which it is empty at the last second.

The three-minute test: CP is the mean of the last thirty seconds, W' the work above it (Vanhatalo, Doust & Burnley 2007).
"""

import csv
import itertools
import json
import math
import pathlib
import sys

from scipy.integrate import trapezoid
from scipy.optimize import brentq

ROOT = pathlib.Path(__file__).resolve().parents[2]
ROWS = ROOT / "tests" / "data" / "threshold_rides.csv"
OUT = ROOT / "tests" / "data" / "threshold_values.json"


def by_the_law(steps, w_prime):
    def left(critical):
        return sum(max(power - critical, 0.0) * time for power, time in steps) - w_prime

    return brentq(left, 0.0, max(power for power, _ in steps), xtol=1e-6)


def by_the_balance(powers, w_prime):
    def left(critical):
        balance = w_prime
        for power in powers:
            if power > critical:
                balance -= power - critical
            else:
                balance = w_prime - (w_prime - balance) * math.exp(-(critical - power) / w_prime)
        return balance

    # At no critical power all work counts; at the greatest power none does.
    return brentq(left, 1.0, max(powers), xtol=1e-6)


def found(rows):
    test, w_prime = rows[0]["test"], float(rows[0]["w_prime"])
    powers = [float(row["power"]) for row in rows]
    if test == "step":
        steps = []
        for _, step in itertools.groupby(rows, key=lambda row: row["block"]):
            step = [float(row["power"]) for row in step]
            steps.append((sum(step) / len(step), len(step)))
        return {
            "critical_power": round(by_the_law(steps, w_prime), 3),
            "by_the_balance": round(by_the_balance(powers, w_prime), 3),
        }
    assert len(powers) == 180, len(powers)
    critical = sum(powers[-30:]) / 30
    # The work above critical power, as the area under the curve of power over time: each row is a second's mean.
    edges = [second for row in range(180) for second in (row, row + 1)]
    above = [power - critical for power in powers for _ in (0, 1)]
    return {"critical_power": round(critical, 3), "w_prime": round(float(trapezoid(above, edges)), 1)}


def main() -> int:
    with ROWS.open(newline="") as file:
        rows = list(csv.DictReader(file))
    rides = itertools.groupby(rows, key=lambda row: row["ride"])
    values = {ride: found(list(seconds)) for ride, seconds in rides}
    text = json.dumps(values, indent=1, sort_keys=True) + "\n"
    if "--check" in sys.argv:
        if OUT.read_text() != text:
            print(f"{OUT} does not agree with the rows: run {sys.argv[0]}", file=sys.stderr)
            return 1
        apart = [abs(v["by_the_balance"] / v["critical_power"] - 1) for v in values.values() if "by_the_balance" in v]
        print(f"{len(values)} threshold tests agree; the two roads of the step test part by {100 * max(apart):.2f} % at most")
        return 0
    OUT.write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
