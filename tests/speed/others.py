"""The same parts in numpy, polars and DuckDB. `prepare(part, engine, folder)` gives what is timed, what makes a comparable
result of what that gave, and, where it matters, what has to be done before each run.

Called by speed.py as a process of its own: others.py PART ENGINE THREADS RUNS FOLDER prints one line of JSON, shaped as
that of tests/benches/review.rs. The first run warms up and is not told.
"""

import json
import os
import sys
import time
from pathlib import Path

PART, ENGINE, THREADS, RUNS, FOLDER = sys.argv[1:6] if len(sys.argv) > 5 else ("", "", "1", "1", ".")
# Read when they are loaded.
os.environ["POLARS_MAX_THREADS"] = THREADS
for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[variable] = THREADS

import numpy as np

if ENGINE == "polars":
    import polars as pl
if ENGINE == "DuckDB":
    import duckdb

import figures

FOLDER = Path(FOLDER)
WATCHED = ("ride.toml", "session.toml", "written.toml", "rider.toml", "samples.csv", "events.csv", "notes.csv")
WORDS = ("kind", "mode", "brake_unit", "power_from", "cadence_from", "heart_rate_from")
WHOLE = ("ridden_s", "block")
COLUMNS = ("ridden_s,plan_s,utc,block,kind,mode,effort,lane_w,brake_target,brake_unit,released,brake_could_w,power_w,"
           "cadence_rpm,heart_rate_bpm,speed_kmh,distance_m,w_balance_j,power_from,cadence_from,heart_rate_from").split(",")
SORT = {name: "word" if name in WORDS else "whole" if name in WHOLE else "number" for name in COLUMNS}
SORT |= {"utc": "time", "released": "flag"}


def connect():
    connection = duckdb.connect()
    connection.execute(f"SET threads = {THREADS}")
    return connection


# Reading a file of samples, every column by its type.

def read_numpy(path):
    kinds = {"word": "U12", "whole": "i8", "number": "f8", "time": "U24", "flag": "U5"}
    table = np.genfromtxt(path, delimiter=",", skip_header=1, dtype=[(name, kinds[SORT[name]]) for name in COLUMNS])
    columns = {name: table[name] for name in COLUMNS}
    columns["utc"] = np.array([text[:23] for text in table["utc"]], "datetime64[ms]")
    return columns


def read_polars(path):
    kinds = {"word": pl.String, "whole": pl.Int64, "number": pl.Float64, "time": pl.String, "flag": pl.Boolean}
    frame = pl.read_csv(path, schema={name: kinds[SORT[name]] for name in COLUMNS})
    return frame.with_columns(pl.col("utc").str.to_datetime("%Y-%m-%dT%H:%M:%S%.3fZ", time_unit="ms"))


def read_duckdb(connection, path):
    kinds = {"word": "VARCHAR", "whole": "BIGINT", "number": "DOUBLE", "time": "TIMESTAMP", "flag": "BOOLEAN"}
    types = ", ".join(f"'{name}': '{kinds[SORT[name]]}'" for name in COLUMNS)
    connection.execute(f"CREATE OR REPLACE TABLE rows AS SELECT * FROM read_csv('{path}', header = true, delim = ',', "
                       f"auto_detect = false, columns = {{{types}}})")
    return connection


def columns_of(rows):
    """What tests/benches/review.rs tells of the columns."""
    told = {}
    for name in COLUMNS:
        sort = SORT[name]
        if ENGINE == "DuckDB":
            if sort == "word":
                counts = dict(rows.execute(f"SELECT {name}, count(*) FROM rows WHERE {name} IS NOT NULL GROUP BY 1").fetchall())
                told[name] = [sum(counts.values()), counts]
                continue
            value = {"time": f"epoch_ms({name})", "flag": f"{name}::INT"}.get(sort, name)
            filled, total = rows.execute(f"SELECT count({name}), sum({value}) FROM rows").fetchone()
        elif ENGINE == "polars":
            series = rows[name].drop_nulls()
            if sort == "word":
                counts = dict(series.value_counts().rows())
                told[name] = [len(series), counts]
                continue
            filled, total = len(series), (series.cast(pl.Int64) if sort in ("time", "flag") else series).sum()
        else:
            values = rows[name]
            if sort == "word":
                counts = {str(word): int(count) for word, count in zip(*np.unique(values[values != ""], return_counts=True))}
                told[name] = [sum(counts.values()), counts]
                continue
            if sort == "flag":
                values = (values[values != ""] == "true").astype("i8")
            if sort == "time":
                values = values.astype("i8")
            if sort == "number":
                values = values[~np.isnan(values)]
            filled, total = len(values), values.sum()
        # Of nothing but false there is no sum to write as a whole number: the same as no sum.
        told[name] = [filled, str(int(total)) if sort != "number" and int(total) else float(total)]
    return told


# Best means at every length of a day.

def bests_numpy(power):
    sums = np.concatenate(([0.0], np.cumsum(power)))
    seconds = len(power)
    means, room = np.empty(seconds), np.empty(seconds)
    for length in range(1, seconds + 1):
        windows = np.subtract(sums[length:], sums[:-length], out=room[:seconds + 1 - length])
        means[length - 1] = windows.max() / length
    return means


def bests_polars(frame):
    sums = pl.concat([pl.Series("c", [0.0]), frame["power_w"].cum_sum().alias("c")]).rechunk()
    seconds = len(frame)
    # Hundreds of expressions at once, which can use two threads, were tried: they take four times as long.
    return [(sums.slice(length) - sums.slice(0, seconds + 1 - length)).max() / length for length in range(1, seconds + 1)]


def bests_duckdb(connection):
    connection.execute("CREATE OR REPLACE TABLE sums AS SELECT 0 AS t, 0.0::DOUBLE AS c UNION ALL SELECT ridden_s::INT, "
                       "sum(power_w) OVER (ORDER BY ridden_s) FROM rows ORDER BY 1")
    # A hundred lengths at a time. Joins of the sums with themselves, by ranges or by lengths, were tried: they take longer.
    answer, seconds = [], connection.execute("SELECT max(t) FROM sums").fetchone()[0]
    for start in range(1, seconds + 1, 100):
        lengths = range(start, min(start + 100, seconds + 1))
        windows = ", ".join(f"lead(c, {length}) OVER (ORDER BY t) - c AS w{length}" for length in lengths)
        answer += connection.execute(f"SELECT {', '.join(f'max(w{length}) / {length}' for length in lengths)} FROM (SELECT {windows} "
                                     "FROM sums)").fetchone()
    return answer


# A list of rides from a table of its own beside them, every file looked at.

STORED = ("key", "started_ms", "session", "rider", "mode", "simulated", "threshold_w", "ridden_s", "power_w", "rating", "load",
          "asked", "ridden", "rated")
LENGTHS = figures.LENGTHS


def store(briefs):
    """Writes the index of each: called by speed.py once, before anything is timed."""
    import duckdb
    import polars as pl
    columns = {name: [brief[name] for brief in briefs] for name in STORED if name != "rated"}
    columns["rated"] = [json.dumps(brief["rated"]) for brief in briefs]
    for index, length in enumerate(LENGTHS):
        columns[f"best_{length}"] = [brief["best_means_w"][index] if index < len(brief["best_means_w"]) else None for brief in briefs]
    stamps = [look(FOLDER / "rides" / brief["key"]) for brief in briefs]
    for index, file in enumerate(WATCHED):
        columns[f"length_{file}"] = [stamp[index][0] for stamp in stamps]
        columns[f"age_{file}"] = [stamp[index][1] for stamp in stamps]
    frame = pl.DataFrame(columns)
    frame.write_parquet(FOLDER / "index.parquet")
    (FOLDER / "index.duckdb").unlink(missing_ok=True)
    connection = duckdb.connect(str(FOLDER / "index.duckdb"))
    connection.execute(f"CREATE TABLE rides AS SELECT * FROM '{FOLDER / 'index.parquet'}'")
    connection.close()
    numeric = {name: np.array([np.nan if value is None else value for value in values], dtype=float) if
               any(isinstance(value, float) for value in values) else np.array([str(v) for v in values])
               if any(isinstance(value, str) for value in values) else np.array([-1 if v is None else v for v in values])
               for name, values in columns.items() if any(value is not None for value in values)}
    np.savez(FOLDER / "index.npz", **numeric)


def look(folder):
    stamp = []
    for file in WATCHED:
        try:
            about = os.stat(f"{folder}/{file}")
            stamp.append((about.st_size, about.st_mtime_ns))
        except FileNotFoundError:
            stamp.append((-1, -1))
    return stamp


def looked_at():
    """Every ride's files, as the index would have to be compared with."""
    rides = FOLDER / "rides"
    return {entry.name: look(entry.path) for entry in os.scandir(rides) if entry.is_dir()}


def list_polars(looks):
    frame = pl.read_parquet(FOLDER / "index.parquet")
    if looks:
        check(frame["key"], [frame[f"length_{file}"].to_list() for file in WATCHED], [frame[f"age_{file}"].to_list() for file in WATCHED])
    return frame.sort("started_ms", descending=True)


def list_duckdb(looks):
    connection = duckdb.connect(str(FOLDER / "index.duckdb"), read_only=True)
    connection.execute(f"SET threads = {THREADS}")
    columns = connection.execute("SELECT * FROM rides ORDER BY started_ms DESC").fetchnumpy()
    connection.close()
    if looks:
        check(columns["key"], [columns[f"length_{file}"].tolist() for file in WATCHED], [columns[f"age_{file}"].tolist() for file in WATCHED])
    return columns


def list_numpy(looks):
    with np.load(FOLDER / "index.npz") as stored:
        columns = {name: stored[name] for name in stored.files}
    if looks:
        check(columns["key"], [columns[f"length_{file}"].tolist() for file in WATCHED], [columns[f"age_{file}"].tolist() for file in WATCHED])
    order = np.argsort(-columns["started_ms"], kind="stable")
    return {name: values[order] for name, values in columns.items()}


def check(keys, lengths, ages):
    found = looked_at()
    for key, length, age in zip(keys, zip(*lengths), zip(*ages)):
        if found.pop(str(key), None) != list(zip(length, age)):
            raise SystemExit(f"{key} is not as it was")
    if found:
        raise SystemExit(f"{len(found)} rides are new")


def listed(rows):
    """Keys in order, and the sums of what is shown."""
    def column(name):
        values = rows[name]
        if hasattr(values, "filled"):
            values = np.ma.filled(values.astype(float), np.nan) if values.dtype.kind in "if" else values
        return values.to_list() if hasattr(values, "to_list") else values.tolist()

    told = {"key": [str(key) for key in column("key")]}
    for name in ("started_ms", "ridden_s", "threshold_w", "power_w", "rating", "load", *(f"best_{length}" for length in LENGTHS[:11])):
        told[name] = [None if value is None or value != value else float(value) for value in column(name)]
    return told


# The same from the files alone.

def unlisted_polars():
    rows = pl.scan_csv(str(FOLDER / "rides" / "*" / "samples.csv"), include_file_paths="file",
                       schema_overrides={"power_w": pl.Float64, "ridden_s": pl.Int64}).select("file", "ridden_s", "power_w")
    power = pl.col("power_w")
    wanted = {f"best_{length}": power.rolling_mean(length, min_samples=length).max() for length in LENGTHS[:11]}
    return rows.group_by("file").agg(pl.col("ridden_s").last(), mean=power.mean(), **wanted).collect()


def unlisted_duckdb(connection):
    windows = ", ".join(f"CASE WHEN count(power_w) OVER w{n} = {n} THEN avg(power_w) OVER w{n} END AS b{n}" for n in LENGTHS[:11])
    frames = ", ".join(f"w{n} AS (PARTITION BY filename ORDER BY ridden_s ROWS BETWEEN {n - 1} PRECEDING AND CURRENT ROW)" for n in LENGTHS[:11])
    bests = ", ".join(f"max(b{n}) AS best_{n}" for n in LENGTHS[:11])
    kinds = {"word": "VARCHAR", "whole": "BIGINT", "number": "DOUBLE", "time": "TIMESTAMP", "flag": "BOOLEAN"}
    types = ", ".join(f"'{name}': '{kinds[SORT[name]]}'" for name in COLUMNS)
    return connection.execute(
        f"WITH rows AS (SELECT filename, ridden_s, power_w, {windows} FROM read_csv('{FOLDER}/rides/*/samples.csv', header = true, "
        f"delim = ',', auto_detect = false, filename = true, columns = {{{types}}}) WINDOW {frames}) SELECT filename AS file, "
        f"max(ridden_s) AS ridden_s, avg(power_w) AS mean, {bests} FROM rows GROUP BY filename").fetchall()


def unlisted(rows):
    rows = rows.rows() if hasattr(rows, "rows") else rows
    return {Path(file).parent.name: [None if value is None else float(value) for value in values] for file, *values in rows}


# Weeks, from the list in memory: from Monday by UTC, the last 530, those without a ride too.

MOST_WEEKS = 530


def weeks_polars(rides):
    weeks = (rides.lazy().with_columns(monday=pl.from_epoch("started_ms", time_unit="ms").dt.truncate("1w").cast(pl.Date)).group_by("monday")
             .agg(rides=pl.len(), ridden_s=pl.col("ridden_s").sum(), load=pl.when(pl.col("load").count() > 0).then(pl.col("load").sum()),
                  unrated=pl.col("load").null_count()).sort("monday"))
    bests = rides.lazy().select(pl.col(f"best_{length}").max() for length in LENGTHS)
    weeks, bests = pl.collect_all([weeks, bests])
    return weeks.upsample("monday", every="1w").tail(MOST_WEEKS), bests


def weeks_duckdb(connection):
    weeks = connection.execute(
        f"WITH w AS (SELECT date_trunc('week', epoch_ms(started_ms))::DATE AS monday, count(*) AS rides, sum(ridden_s) AS ridden_s, "
        "sum(load) AS load, count(*) FILTER (load IS NULL) AS unrated FROM rides GROUP BY 1), every AS (SELECT unnest(generate_series("
        "(SELECT min(monday) FROM w), (SELECT max(monday) FROM w), INTERVAL 7 DAY))::DATE AS monday) SELECT monday, coalesce(rides, 0), "
        f"coalesce(ridden_s, 0), load, coalesce(unrated, 0) FROM (FROM every ORDER BY monday DESC LIMIT {MOST_WEEKS}) LEFT JOIN w USING (monday) "
        "ORDER BY monday").fetchall()
    bests = connection.execute(f"SELECT {', '.join(f'max(best_{length})' for length in LENGTHS)} FROM rides").fetchone()
    return weeks, bests


def weeks_numpy(rides):
    # 1970-01-05 was a Monday.
    week = (rides["started_ms"] // 86_400_000 - 4) // 7
    first = max(week.min(), week.max() - MOST_WEEKS + 1)
    kept = week >= first
    place, count = (week - first)[kept], week.max() - first + 1
    load = rides["load"][kept]
    rated = ~np.isnan(load)
    loads = np.where(np.bincount(place[rated], minlength=count) > 0, np.bincount(place, np.where(rated, load, 0), count), np.nan)
    mondays = (np.arange(first, first + count) * 7 + 4).astype("datetime64[D]")
    weeks = (mondays, np.bincount(place, minlength=count), np.bincount(place, rides["ridden_s"][kept], count), loads,
             np.bincount(place[~rated], minlength=count))
    return weeks, [np.nanmax(rides[name]) if name in rides else None for name in (f"best_{length}" for length in LENGTHS)]


def told_weeks(found):
    weeks, bests = found
    if ENGINE == "polars":
        weeks, bests = weeks.rows(), bests.row(0)
    if ENGINE == "numpy":
        weeks = zip(*(part.tolist() for part in weeks))
    told = {}
    for monday, rides, ridden_s, load, unrated in weeks:
        told[str(monday)] = [rides or 0, float(ridden_s or 0), None if load is None or load != load else float(load), unrated or 0]
    return {"weeks": told, "bests": [None if best is None else float(best) for best in bests]}


def prepare(part, engine):
    """What is timed, and what makes the result of it."""
    day, long = FOLDER / "day" / "samples.csv", FOLDER / "long" / "samples.csv"
    newest = max(os.listdir(FOLDER / "rides")) if part == "open" else ""
    newest = FOLDER / "rides" / newest / "samples.csv"
    same = lambda found: found
    connection = connect() if engine == "DuckDB" else None
    read = {"numpy": read_numpy, "polars": read_polars}.get(engine, lambda path: read_duckdb(connection, path))
    reckon = {"numpy": figures.of_numpy, "polars": figures.of_polars if engine == "polars" else None, "DuckDB": figures.of_duckdb}[engine]
    if part == "read":
        return lambda: read(day), columns_of
    if part == "figures":
        rows = read(long)
        return lambda: reckon(rows), same
    if part == "open":
        return lambda: reckon(read(newest)), lambda found: {"key": newest.parent.name, "figures": found}
    if part == "bests":
        rows = read(day)
        if engine == "numpy":
            return lambda: bests_numpy(rows["power_w"]), lambda means: means.tolist()
        return lambda: (bests_polars if engine == "polars" else bests_duckdb)(rows), same
    if part in ("list", "index"):
        lists = {"numpy": list_numpy, "polars": list_polars if engine == "polars" else None, "DuckDB": list_duckdb}[engine]
        return lambda: lists(part == "list"), listed
    if part == "unlisted":
        return (unlisted_polars if engine == "polars" else lambda: unlisted_duckdb(connection)), unlisted
    if part == "weeks":
        if engine == "DuckDB":
            connection.execute(f"CREATE TABLE rides AS SELECT * FROM '{FOLDER / 'index.parquet'}'")
            return lambda: weeks_duckdb(connection), told_weeks
        rides = list_polars(False) if engine == "polars" else list_numpy(False)
        return lambda: (weeks_polars if engine == "polars" else weeks_numpy)(rides), told_weeks
    if part == "nothing":
        return lambda: None, same
    raise SystemExit(f"there is no part {part}")


def main():
    run, result_of = prepare(PART, ENGINE)
    runs, seconds = int(RUNS), []
    found = None
    # A part that takes minutes is run once, without a warm-up.
    for turn in range(1 if runs == 0 else 0, runs + 1 if runs else 2):
        del found
        began = time.perf_counter()
        found = run()
        took = time.perf_counter() - began
        if turn:
            seconds.append(took)
    # Not ru_maxrss, which begins with what the process had that started this one.
    status = Path("/proc/self/status").read_text()
    peak = int(status.split("VmHWM:")[1].split()[0])
    print(json.dumps({"seconds": seconds, "peak_kib": peak, "result": result_of(found)}))


if __name__ == "__main__":
    main()
