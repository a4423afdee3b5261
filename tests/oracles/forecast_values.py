#!/usr/bin/env python3
"""Works out forecasts of sessions with SciPy, independently of the program.

Writes tests/data/forecast_values.json, which tests/it/forecast.rs compares with what the program reckons. With --check it
writes nothing and fails where the file no longer agrees.

The W' balance is solved as a differential equation, not stepped by its closed form: above critical power
dW/dt = -(P - CP), below it dW/dt = (CP - P) (W' - W) / W' (Skiba et al. 2015; Skiba & Clarke 2021). The first case is the
worked example of the published form: CP 250 W, W' 20 kJ, a minute at 400 W and a minute at 100 W leave 11000 J and then
14261.35 J.
"""

import json
import pathlib
import sys

from scipy.integrate import solve_ivp
from scipy.optimize import brentq

OUT = pathlib.Path(__file__).resolve().parents[2] / "tests" / "data" / "forecast_values.json"

# Critical power, W'; blocks as kind, name, seconds, watts; how often the middle ones are ridden.
CASES = [
    ("worked", 250, 20000, [], 1, [("hold", "Up", 60, 400), ("recovery", "Down", 60, 100)], []),
    ("within", 240, 18000, [("warm-up", "In", 600, 110)], 4,
     [("hold", "Wave", 150, 300), ("recovery", "Trough", 180, 120)], [("cool-down", "Out", 300, 100)]),
    ("beyond", 200, 12000, [("warm-up", "In", 600, 90)], 6,
     [("hold", "Storm", 180, 250), ("recovery", "Lull", 90, 110)], [("cool-down", "Out", 300, 80)]),
    ("once", 180, 9000, [("warm-up", "In", 480, 80)], 1,
     [("hold", "Wall", 300, 230), ("recovery", "Lee", 120, 90)], [("cool-down", "Out", 240, 70)]),
]


def balance(critical, w_prime, blocks):
    """What is left at the end of each block, and the lowest of them: within a block the balance is monotone."""
    left, ends = float(w_prime), []
    for _, _, seconds, watts in blocks:
        def change(_, w, watts=watts):
            if watts > critical:
                return [-(watts - critical)]
            return [(critical - watts) * (w_prime - w[0]) / w_prime]

        left = float(solve_ivp(change, (0, seconds), [left], rtol=1e-10, atol=1e-8).y[0][-1])
        ends.append(left)
    return ends


def work_out(critical, w_prime, before, times, repeated, after):
    blocks = before + repeated * times + after
    ends = balance(critical, w_prime, blocks)
    lowest = min(ends)
    at = ends.index(lowest)
    out = {
        "lowest_j": lowest,
        "lowest_at_s": sum(block[2] for block in blocks[: at + 1]),
        "last_j": ends[-1],
        "work_kj": sum(block[2] * block[3] for block in blocks) / 1000,
        "beyond": [index for index, (block, left) in enumerate(zip(blocks, ends)) if block[3] > critical and left < 0],
        "lower_w": None,
    }
    if out["beyond"]:
        name = blocks[out["beyond"][0]][1]

        def least(watts):
            eased = [block[:3] + (watts,) if block[1] == name else block for block in blocks]
            return min(balance(critical, w_prime, eased))

        out["lower_w"] = brentq(least, critical + 1, max(block[3] for block in blocks), xtol=1e-4)
    return out


def main():
    found = []
    for name, critical, w_prime, before, times, repeated, after in CASES:
        case = {"name": name, "critical_w": critical, "w_prime_j": w_prime, "before": before, "times": times,
                "repeated": repeated, "after": after}
        case.update(work_out(critical, w_prime, before, times, repeated, after))
        found.append(case)
    # The worked example itself, from print.
    assert abs(found[0]["lowest_j"] - 11000) < 1e-3 and abs(found[0]["last_j"] - 14261.35) < 0.01, found[0]
    text = json.dumps(found, indent=1) + "\n"
    if "--check" not in sys.argv:
        OUT.write_text(text)
        return
    kept = json.loads(OUT.read_text())

    def same(a, b):
        if isinstance(a, float) or isinstance(b, float):
            return a is not None and b is not None and abs(a - b) < 1e-3
        if isinstance(a, list):
            return len(a) == len(b) and all(map(same, a, b))
        if isinstance(a, dict):
            return a.keys() == b.keys() and all(same(a[key], b[key]) for key in a)
        return a == b

    if not same(kept, json.loads(text)):
        sys.exit("tests/data/forecast_values.json is not what SciPy makes of its cases.")
    print(f"{len(found)} forecasts are what SciPy makes of them.")


if __name__ == "__main__":
    main()
