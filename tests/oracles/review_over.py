#!/usr/bin/env python3
"""Reckons again what compares rides, by other libraries: critical power by scipy, the learned effort map by scikit-learn,
best means at every duration of a ride by pandas.

Usage: review_over.py --values             prints what the unit tests of critical power expect
       review_over.py COMPARE.json         the blocks of `stillroad compare --json`, against the recordings named in it
       review_over.py MAP.json RATED.json  the figures of a learned map, against the ratings that it was learned from

None of the program's code is used. Exit 1 with a line for each figure outside of its tolerance, 1e-6 of it.
Needs numpy, scipy, scikit-learn and pandas.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy import optimize, stats

EFFORTS = [(130.0, 402.0), (185.0, 351.0), (300.0, 322.0), (480.0, 291.0), (840.0, 272.0)]
DEFAULT = [0.0, 0.20, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02]
WEIGHS = np.array([4.0, 40.0, 4.0, 8.0])
wrong = []


def check(where, found, expected, within=1e-6):
    if found is None and expected is None:
        return
    if found is None or expected is None or abs(found - expected) > within * max(1.0, abs(expected)):
        wrong.append(f"{where}: {found} for {expected}")


def values():
    t, p = np.array(EFFORTS).T
    line = stats.linregress(t, p * t)
    print(f"by work: CP {line.slope!r} ± {line.stderr!r}, W′ {line.intercept!r} ± {line.intercept_stderr!r}")
    (cp, w), spread = optimize.curve_fit(lambda p, cp, w: w / (p - cp), p, t, p0=(line.slope, line.intercept),
                                         xtol=1e-14, ftol=1e-14, gtol=1e-14, maxfev=100_000)
    print(f"by time: CP {cp!r} ± {spread[0, 0] ** 0.5!r}, W′ {w!r} ± {spread[1, 1] ** 0.5!r}")


def compared(path):
    import pandas as pd
    comparison = json.loads(Path(path).read_text(encoding="utf-8"))["comparison"]
    for index, ride in enumerate(comparison["rides"]):
        rows = pd.read_csv(Path(path).parent / ride["key"] / "samples.csv")
        check(f"ride {index + 1} mean", ride["power_w"], rows["power_w"].mean() if rows["power_w"].notna().any() else None)
        pieces = [piece for _, piece in rows.groupby((rows["block"] != rows["block"].shift()).cumsum())]
        cells = [block["each"][index] for block in comparison["blocks"] if block["each"][index]]
        check(f"ride {index + 1} blocks", len(cells), len(pieces))
        # The blocks of the first ride stand in its order; of the others each stands where its name does.
        lengths = sorted(len(piece) for piece in pieces)
        if sorted(cell["ridden_s"] for cell in cells) != lengths:
            wrong.append(f"ride {index + 1}: lengths of blocks")
        means = sorted(round(float(piece["power_w"].mean()), 6) for piece in pieces if piece["power_w"].notna().any())
        told = sorted(round(cell["power_w"], 6) for cell in cells if cell["power_w"] is not None)
        for found, expected in zip(told, means, strict=True):
            check(f"ride {index + 1} block mean", found, expected, 1e-5)


def learned(path, rated):
    from sklearn.isotonic import IsotonicRegression
    from sklearn.linear_model import LinearRegression
    told = json.loads(Path(path).read_text(encoding="utf-8"))["learned"]
    rated = json.loads(Path(rated).read_text(encoding="utf-8"))
    before = np.array(told["before"])

    def effort_of(share):
        beyond = 9 + (share - before[9]) / (before[9] - before[8])
        return np.where(share > before[9], beyond, np.interp(share, before, np.arange(10)))

    share = np.array([one["share"] for one in rated])
    rows = np.column_stack([np.ones(len(rated)), effort_of(share), np.log(np.array([one["minutes"] for one in rated]) / 8),
                            np.array([one["repeat"] for one in rated]) - 1.0])
    given = np.array([one["rating"] for one in rated])
    # The start weighs as rows of its own: each figure once, by the root of its weight.
    start = np.diag(np.sqrt(WEIGHS))
    aimed = np.sqrt(WEIGHS) * np.array([0.0, 1.0, 0.0, 0.0])
    fit = LinearRegression(fit_intercept=False).fit(np.vstack([rows, start]), np.concatenate([given, aimed]))
    for name, found, expected in zip("asbc", told["figures"], fit.coef_, strict=True):
        check(f"figure {name}", found, float(expected))
    rest = given - rows @ fit.coef_
    check("scatter", told["scatter"], float(np.sqrt((rest ** 2).sum() / max(len(given) - 4, 1))))
    # Monotone: of what is expected over load, isotonic regression changes nothing.
    loads = np.linspace(0.2, 1.4, 241)
    expected = fit.coef_[0] + fit.coef_[1] * effort_of(loads)
    even = IsotonicRegression().fit_transform(loads, expected)
    check("isotonic", float(np.abs(even - expected).max()), 0.0, 1e-9)
    # Read off backwards: the share whose expected rating is the effort, by another root finder.
    for effort in range(3, 10):
        beyond = lambda place: before[9] + (place - 9) * (before[9] - before[8])  # noqa: E731
        share_of = lambda place: beyond(place) if place > 9 else float(np.interp(place, np.arange(10), before))  # noqa: E731
        root = optimize.brentq(lambda place: fit.coef_[0] + fit.coef_[1] * place - effort, -50, 50)
        check(f"share at {effort}", told["shares"][effort], share_of(root), 6e-4)


def main(arguments):
    match arguments:
        case ["--values"]:
            values()
        case [path]:
            compared(path)
        case [path, rated]:
            learned(path, rated)
        case _:
            print(__doc__)
            return 2
    for line in wrong[:40]:
        print(f"wrong: {line}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
