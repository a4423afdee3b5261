"""Runs each part in each program, compares what came out, and prints the table.

Usage: speed.py OURS FOLDER RIDES RUNS [TABLE]     called by tests/speed/run

Every part of every program is a fresh process, so that none uses what another left in memory. In it the part runs once
unmeasured, which also brings its files into the system's cache, then RUNS times; what takes seconds runs once, what takes
longer once in all. Processes of all programs take turns, in
two rounds, so that a machine that is busy for a while is busy for all. The figure of the table is the median of all runs;
the quickest stands beside it. With one thread a process is bound to one processor, ours too; with two it is not, and
polars and DuckDB are told to use two.

Peak memory is that of the whole process (VmHWM of proc(5)), its libraries with it: the part `nothing` tells how much these
are alone. Results are the same where every number differs by 1e-6 of itself at most and everything else not at all.
Exit 1 with a line for each that is not.
"""

import json
import os
import platform
import statistics
import subprocess
import sys
from datetime import datetime, timezone
from importlib.metadata import version
from pathlib import Path

import rides

OURS = "Stillroad"
ROUNDS = 2
# Which programs with how many threads: numpy has one; ours uses a second where it reads many files.
BOTH = [(OURS, 1), (OURS, 2), ("polars", 1), ("polars", 2), ("DuckDB", 1), ("DuckDB", 2)]
ALL = [*BOTH, ("numpy", 1)]
PARTS = {
    "read": ("a recording of 24 h, 86,400 lines of 21 columns, from its file", ALL),
    "figures": ("all figures of a ride of 4 h, from its rows", ALL),
    # In polars with one alone, since that is all that its quickest way uses; in DuckDB with two alone, or it would take
    # twice as many minutes.
    "bests": ("best means at each of 86,400 lengths of a day", [one for one in ALL if one not in (("DuckDB", 1), ("polars", 2))]),
    "list": ("a list of {rides:,} rides from an index, all their files looked at", ALL),
    "index": ("the index of {rides:,} rides alone, no file looked at", [one for one in ALL if one[0] != OURS]),
    # Ours reads with one thread; the others have two, or they would take twice as many minutes.
    "unlisted": ("a list of {rides:,} rides from the rides themselves", [(OURS, 1), ("polars", 2), ("DuckDB", 2)]),
    "open": ("one of them opened: its files and all figures", ALL),
    "weeks": ("530 weeks of trends from the list of {rides:,}", ALL),
    "nothing": ("a process that does nothing", [(OURS, 1), ("polars", 1), ("DuckDB", 1), ("numpy", 1)]),
}
# Seconds long: measured once a round.
SELDOM = {("bests", "numpy"), ("bests", "polars"), ("read", "numpy")}
# And these once in all.
ONCE = {("bests", "DuckDB"), ("unlisted", OURS), ("unlisted", "polars"), ("unlisted", "DuckDB")}
WITHIN = 1e-6
# A process that takes longer is stopped, seconds: the table says so, and its result is told to be compared with nothing.
LIMIT = float(os.environ.get("SPEED_LIMIT", "600"))


def same(one, other):
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return abs(one - other) <= WITHIN * max(1.0, abs(other))
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    return one == other


def flat(figures):
    """Ours under the names of figures.py."""
    told = {}

    def walk(name, value):
        if isinstance(value, dict):
            for key, inner in value.items():
                walk(f"{name}.{key}", inner)
        elif value is None or isinstance(value, (int, float)):
            told[name] = value
    walk("ride", {key: value for key, value in figures["ride"].items() if key != "best_means"})
    for best in figures["ride"]["best_means"]:
        told[f"ride.best.{best['seconds']}"] = best["mean_w"]
    for index, block in enumerate(figures["blocks"]):
        walk(f"block.{index}", block)
    return told


def ours_as_theirs(part, result):
    if part == "figures":
        return flat(result)
    if part == "open":
        return {"key": result["key"], "figures": flat(result["figures"])}
    if part == "list":
        told = {name: [ride[name] for ride in result]
                for name in ("key", "started_ms", "ridden_s", "threshold_w", "power_w", "rating", "load")}
        for index, length in enumerate(rides.LENGTHS[:11]):
            told[f"best_{length}"] = [ride["best_means_w"][index] if index < len(ride["best_means_w"]) else None for ride in result]
        return told
    if part == "unlisted":
        return {ride["key"]: [ride["ridden_s"], ride["power_w"], *(ride["best_means_w"] + [None] * 11)[:11]] for ride in result}
    if part == "weeks":
        weeks = {week["monday"]: [week["rides"], week["ridden_s"], week["load"], week["unrated"]] for week in result["weeks"]}
        bests = {best["seconds"]: best["mean_w"] for best in result["bests"]}
        return {"weeks": weeks, "bests": [bests.get(length) for length in rides.LENGTHS]}
    return result


def compare(part, ours, theirs, who):
    """A sentence for each thing that is not the same. Of figures ours has more; every one of theirs must be among them."""
    if part in ("figures", "open"):
        mine, other = (ours, theirs) if part == "figures" else (ours["figures"], theirs["figures"])
        wrong = [f"{part}, {who}, {key}: {value} where ours is {mine.get(key)}" for key, value in other.items()
                 if key not in mine or not same(mine[key], value)]
        if part == "open" and ours["key"] != theirs["key"]:
            wrong.append(f"open, {who}: {theirs['key']} where ours is {ours['key']}")
        return wrong, len(other)
    count = len(json.dumps(theirs).split(","))
    if same(ours, theirs):
        return [], count
    if isinstance(ours, dict) and isinstance(theirs, dict):
        keys = [key for key in {*ours, *theirs} if not same(ours.get(key), theirs.get(key))]
        return [f"{part}, {who}, {key}: {str(theirs.get(key))[:90]} where ours is {str(ours.get(key))[:90]}" for key in keys], count
    pairs = [f"{part}, {who}, {at}: {b} where ours is {a}" for at, (a, b) in enumerate(zip(ours, theirs)) if not same(a, b)]
    return pairs or [f"{part}, {who}: {len(theirs)} figures where ours are {len(ours)}"], count


def run(ours, folder, part, who, threads, runs):
    once = (part, who) in ONCE
    runs = 1 if once or (part, who) in SELDOM else runs
    if who == OURS:
        command = [ours, f"--part={part}", f"--folder={folder}", f"--runs={runs}"]
    else:
        others = str(Path(__file__).with_name("others.py"))
        command = [sys.executable, others, part, who, str(threads), "0" if once else str(runs), str(folder)]
    bound = (lambda: os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})) if threads == 1 else None
    try:
        done = subprocess.run(command, capture_output=True, text=True, preexec_fn=bound, timeout=LIMIT)
    except subprocess.TimeoutExpired:
        return None
    if done.returncode:
        raise SystemExit(f"{part} in {who} failed with {done.returncode}:\n{done.stderr[-2000:]}")
    return json.loads(done.stdout)


def short(seconds):
    if seconds >= 10:
        return f"{seconds:.0f} s"
    if seconds >= 0.9995:
        return f"{seconds:.2f} s"
    return f"{seconds * 1000:.{0 if seconds >= 0.1 else 1 if seconds >= 0.001 else 3}f} ms"


def processor():
    lines = Path("/proc/cpuinfo").read_text().splitlines()
    return next((line.split(":")[1].strip() for line in lines if line.startswith("model name")), platform.machine())


def table(all_of, stopped, count, load):
    lines = [f"Measured on {datetime.now(timezone.utc):%Y-%m-%d}: {processor()}, {os.cpu_count()} processors, Linux {platform.release()}, "
             f"Python {platform.python_version()}, numpy {version('numpy')}, polars {version('polars')}, DuckDB {version('duckdb')}. "
             f"The machine's load was {load[0]:.1f} before and {load[1]:.1f} after (1 would be one busy processor, this run's own).", "",
             "| part | program | threads | median | quickest | peak memory |", "|---|---|---|---|---|---|"]
    for part, (says, who) in PARTS.items():
        for index, one in enumerate(who):
            name = says.format(rides=count) if index == 0 else ""
            if (part, *one) in stopped:
                lines.append(f"| {name} | {one[0]} | {one[1]} | stopped after {LIMIT:.0f} s, not compared | | |")
            if (part, *one) not in all_of:
                continue
            seconds, peak, _ = all_of[part, *one]
            median, least = (short(statistics.median(seconds)), short(min(seconds))) if seconds and part != "nothing" else ("", "")
            lines.append(f"| {name} | {one[0]} | {one[1]} | {median} | {least} | {peak / 1024:.0f} MiB |")
    return "\n".join(lines) + "\n"


def main(arguments):
    if len(arguments) not in (4, 5):
        print(__doc__)
        return 2
    ours, folder, count, runs = arguments[0], Path(arguments[1]), int(arguments[2]), int(arguments[3])
    wanted = os.environ.get("SPEED_PARTS")
    parts = [part for part in PARTS if not wanted or part in wanted.split(",")]
    rides.make(folder, count)
    before = os.getloadavg()[0]
    # The others' index holds what ours does. Written once, by what ours told, which is compared with the files' own figures.
    listing = run(ours, folder, "list", OURS, 2, 1)["result"]
    (folder / "listing.json").write_text(json.dumps(listing))
    subprocess.run([sys.executable, "-c", "import sys; sys.argv = ['', '', '', '1', '1', sys.argv[1]]; import json, others, pathlib; "
                    "others.store(json.loads((others.FOLDER / 'listing.json').read_text()))", str(folder)],
                   check=True, cwd=Path(__file__).parent)
    all_of, stopped, wrong, compared = {}, [], [], 0
    for turn in range(ROUNDS):
        for part in parts:
            for who, threads in PARTS[part][1]:
                if turn and (part, who) in ONCE:
                    continue
                if (part, who, threads) in stopped:
                    continue
                told = run(ours, folder, part, who, threads, runs)
                if told is None:
                    stopped.append((part, who, threads))
                    continue
                seconds, peak, result = all_of.setdefault((part, who, threads), ([], 0, told["result"]))
                seconds += told["seconds"]
                all_of[part, who, threads] = (seconds, max(peak, told["peak_kib"]), result)
    for part in parts:
        # Without ours nothing can be compared.
        if any(one[:2] == (part, OURS) for one in stopped):
            wrong.append(f"{part}: {OURS} took longer than {LIMIT:.0f} s")
            all_of = {key: value for key, value in all_of.items() if key[0] != part}
    for (part, who, threads), (_, _, result) in all_of.items():
        if part == "nothing" or (who, threads) == (OURS, 1):
            continue
        mine = listing if part == "index" else all_of[part, OURS, 1][2]
        part_of = "list" if part == "index" else part
        theirs = ours_as_theirs(part_of, result) if who == OURS else result
        sentences, figures = compare(part_of, ours_as_theirs(part_of, mine), theirs, f"{who} with {threads}")
        wrong += sentences
        compared += figures
    told = table(all_of, stopped, count, (before, os.getloadavg()[0]))
    print(told)
    for sentence in wrong[:40]:
        print(f"not the same: {sentence}", file=sys.stderr)
    for one in stopped:
        print("not compared, since it was stopped: {}, {} with {}".format(*one), file=sys.stderr)
    print(f"{compared:,} values compared, {len(wrong)} not the same.")
    if len(arguments) == 5:
        Path(arguments[4]).write_text(told, encoding="utf-8")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
