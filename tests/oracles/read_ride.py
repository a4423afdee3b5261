#!/usr/bin/env python3
"""Opens a ride's folder with pandas and Python's own csv and tomllib, and checks it without any code of the program.

Usage: read_ride.py FOLDER [--killed]

--killed: the ride was cut off, so the event `recording-closed` may be missing and a last line may be torn.
Prints a summary; exit 1 with a sentence for each thing that is wrong. Needs pandas (any 2.x).
"""

import csv
import io
import sys
import tomllib
from pathlib import Path

import pandas as pd

NUMBERS = [
    "effort", "lane_w", "brake_target", "brake_could_w", "power_w", "cadence_rpm", "heart_rate_bpm", "speed_kmh", "distance_m",
    "w_balance_j",
]
COLUMNS = {
    "samples.csv": [
        "ridden_s", "plan_s", "utc", "block", "kind", "mode", "effort", "lane_w", "brake_target", "brake_unit",
        "released", "brake_could_w", "power_w", "cadence_rpm", "heart_rate_bpm", "speed_kmh", "distance_m", "w_balance_j",
        "power_from", "cadence_from", "heart_rate_from",
    ],
    "events.csv": ["ridden_s", "plan_s", "utc", "what", "detail"],
    "notes.csv": ["utc", "block", "what", "rating", "text"],
    "raw.csv": ["at_us", "input", "content", "check"],
}
SOURCES = {"trainer", "meter", "cadence", "heart", "second-heart"}
KINDS = {"warm-up", "hold", "recovery", "sprint", "cool-down", "free"}
# Wide bounds of what a body on a bicycle can do: common practice, no source.
BOUNDS = {
    "effort": (0, 10), "lane_w": (0, 2500), "power_w": (-50, 3000), "cadence_rpm": (0, 250),
    "heart_rate_bpm": (25, 250), "speed_kmh": (0, 150), "distance_m": (0, 1e6),
}

wrong = []


def check(holds, sentence):
    if not holds:
        wrong.append(sentence)


def whole_lines(path, killed):
    """The file's bytes up to its last line end, and whether something was torn off."""
    content = path.read_bytes()
    end = content.rfind(b"\n") + 1
    check(end == len(content) or killed, f"{path.name}: the last line has no line end")
    return content[:end]


def main(arguments):
    killed = "--killed" in arguments
    folders = [argument for argument in arguments if not argument.startswith("--")]
    if len(folders) != 1:
        print(__doc__)
        return 2
    folder = Path(folders[0])

    about = tomllib.loads((folder / "ride.toml").read_text(encoding="utf-8"))
    check(about["format"] == 1, f"ride.toml: format {about['format']}")
    check(about["started"].utcoffset().total_seconds() == 0, "ride.toml: started is not in UTC")
    check(about["session"]["mode"] in ("target-power", "effort-only"), "ride.toml: unknown mode")
    for key in ("threshold_w", "power_cap_w", "sprint_cap_w"):
        check(about["rider"][key] > 0, f"ride.toml: {key} is not above 0")
    tomllib.loads((folder / "session.toml").read_text(encoding="utf-8"))
    tomllib.loads((folder / "rider.toml").read_text(encoding="utf-8"))

    tables = {}
    for name, columns in COLUMNS.items():
        content = whole_lines(folder / name, killed)
        if killed and name == "raw.csv" and not content:
            # A log that found no room: the last of it belongs to the rows.
            tables[name] = []
            continue
        records = list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))
        check(records and records[0] == columns, f"{name}: the header is {records[:1]}")
        for number, record in enumerate(records, start=1):
            check(len(record) == len(columns), f"{name}, line {number}: {len(record)} cells")
        check(content.count(b"\n") == len(records), f"{name}: a record is spread over several lines")
        tables[name] = records[1:]
    for name, texts in (("events.csv", (3, 4)), ("notes.csv", (2, 4))):
        for record in tables[name]:
            for place in texts:
                check(record[place][:1] not in tuple("=+-@\t\r"), f"{name}: an unguarded formula {record[place]!r}")

    rows = pd.read_csv(
        io.BytesIO(whole_lines(folder / "samples.csv", killed)), parse_dates=["utc"], dtype={"brake_unit": "string"}
    )
    check(len(rows) == len(tables["samples.csv"]), "samples.csv: pandas and csv differ in the number of rows")
    if len(rows):
        check(rows["ridden_s"].dtype == "int64", "samples.csv: ridden_s is not whole")
        check(rows["block"].dtype == "int64", "samples.csv: block is not whole")
        check(rows["released"].dtype == "bool", "samples.csv: released is not true or false throughout")
        check(str(rows["utc"].dtype).endswith("UTC]"), f"samples.csv: utc is {rows['utc'].dtype}")
        for column in NUMBERS:
            check(pd.api.types.is_numeric_dtype(rows[column]), f"samples.csv: {column} is {rows[column].dtype}")
        check(list(rows["ridden_s"]) == list(range(1, len(rows) + 1)), "samples.csv: not one row for each second from 1")
        check(not rows["ridden_s"].duplicated().any(), "samples.csv: a second stands twice")
        check(rows["utc"].is_monotonic_increasing, "samples.csv: utc goes back")
        check(rows["utc"].iloc[0] >= pd.Timestamp(about["started"]), "samples.csv: a row before the start")
        check((rows["block"] >= 1).all(), "samples.csv: a block before the first")
        check(set(rows["kind"]) <= KINDS, f"samples.csv: kinds {set(rows['kind']) - KINDS}")
        check(set(rows["mode"]) <= {"target-power", "effort-only"}, "samples.csv: an unknown mode")
        check((rows["brake_target"].isna() == rows["brake_unit"].isna()).all(), "samples.csv: a target without unit")
        check(set(rows["brake_unit"].dropna()) <= {"W", "level", "%"}, "samples.csv: an unknown unit of the brake")
        for column, source in (("power_w", "power_from"), ("cadence_rpm", "cadence_from"),
                               ("heart_rate_bpm", "heart_rate_from")):
            check((rows[column].isna() == rows[source].isna()).all(), f"samples.csv: {column} without {source}, or the other")
            check(set(rows[source].dropna()) <= SOURCES, f"samples.csv: an unknown word in {source}")
        for column, (least, most) in BOUNDS.items():
            seen = rows[column].dropna()
            check(seen.between(least, most).all(), f"samples.csv: {column} from {seen.min()} to {seen.max()}")
        watts = rows.loc[rows["brake_unit"] == "W", "brake_target"]
        caps = max(about["rider"]["power_cap_w"], about["rider"]["sprint_cap_w"])
        check((watts <= caps).all(), f"samples.csv: the brake was told {watts.max()} W above the caps")

    closed = [record[4] for record in tables["events.csv"] if record[3] == "recording-closed"]
    check(killed or len(closed) == 1, f"events.csv: closed {len(closed)} times")
    stamps = [int(record[0]) for record in tables["raw.csv"]]
    check(stamps == sorted(stamps), "raw.csv: at_us goes back")

    print(f"{folder.name}: {about['session']['name']}, {about['session']['mode']}, {about['program']}")
    print(f"{len(rows)} rows, {len(tables['events.csv'])} events, {len(tables['notes.csv'])} notes, "
          f"{len(stamps)} raw inputs, ended: {closed[-1] if closed else 'cut off'}")
    if len(rows):
        print(rows.groupby(["block", "kind"], sort=False).agg(
            seconds=("ridden_s", "size"), lane_w=("lane_w", "mean"), power_w=("power_w", "mean"),
            cadence_rpm=("cadence_rpm", "mean"), heart_rate_bpm=("heart_rate_bpm", "mean"),
        ).round(1).to_string())
    for sentence in wrong[:50]:
        print(f"wrong: {sentence}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
