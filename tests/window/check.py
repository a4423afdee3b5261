#!/usr/bin/env python3
"""Judges a ride of the window's check by its files and its session.

    check.py FOLDER CASE [KILLED_AT]

CASE: ridden, stopped, killed, closed, television or panicked; KILLED_AT: the wall clock at the kill, seconds since 1970. Figures are reckoned here from
session.toml, not taken from the program.
"""

import csv
import datetime
import json
import pathlib
import sys
import tomllib

# The rider that a first start brings has a cap of 200 W (rider.toml is empty, ride.toml says it).
folder, case = pathlib.Path(sys.argv[1]), sys.argv[2]
wrong = []


def expect(right, sentence):
    if not right:
        wrong.append(sentence)


def table(name):
    # A line that a kill tore off has no line end.
    text = (folder / name).read_text()
    return list(csv.DictReader(text[: text.rfind("\n") + 1].splitlines()))


def seconds(clock):
    minutes, rest = clock.split(":")
    return 60 * int(minutes) + int(rest)


def moment(row):
    return datetime.datetime.fromisoformat(row["utc"].replace("Z", "+00:00")).timestamp()


with open(pathlib.Path(__file__).with_name("session.toml"), "rb") as file:
    blocks = tomllib.load(file)["block"]
with open(folder / "ride.toml", "rb") as file:
    cap = tomllib.load(file)["rider"]["power_cap_w"]
rows, events = table("samples.csv"), table("events.csv")
whole = sum(seconds(block["time"]) for block in blocks)
expect([int(row["ridden_s"]) for row in rows] == list(range(1, len(rows) + 1)), "a second is missing or stands twice")
expect(all(float(row["brake_target"] or 0) <= cap for row in rows), f"a target is over the cap of {cap} W")
expect(any(row["power_w"] for row in rows), "no power was recorded")
kinds = [block["kind"] for block in blocks for _ in range(seconds(block["time"]))]
expect([row["kind"] for row in rows] == kinds[: len(rows)], "the blocks are not the session's")
what = [event["what"] for event in events]
if case == "ridden":
    for asked in ("trim", "pause", "resume"):
        expect(asked in what, f"there is no {asked} among the events")
    ratings = [note["rating"] for note in table("notes.csv") if note["what"] == "rating" and not note["block"]]
    expect([float(rating) for rating in ratings] == [6], f"the whole ride was rated {ratings}, not 6")
    expect(len(rows) == whole, f"{len(rows)} rows, not {whole}")
    held = blocks[1]
    # The last seconds of the held block, after its build-up; a written target may be one step behind.
    last = seconds(blocks[0]["time"]) + seconds(held["time"]) - 1
    target = float(rows[last - 1]["brake_target"] or "nan")
    expect(target == min(held["watts"], cap), f"the held block ends at {target} W, not {held['watts']}")
else:
    expect(10 <= len(rows) < whole, f"{len(rows)} rows")
if case == "killed":
    killed_at = float(sys.argv[3])
    lost = killed_at - moment(rows[-1])
    # A row a second, on the disk within two.
    expect(lost < 3, f"the last row is {lost:.1f} s older than the kill")
    expect("recording-closed" not in what, "the recording says that it was closed")
else:
    details = [event["detail"] for event in events if event["what"] == "end"]
    expect(len(details) == 1, f"it ended {len(details)} times")
    after = [event for event in what[what.index("end"):] if event in ("target", "released")]
    expect(after and after[-1] == "released", f"after the end the brake was told {after}")
    # The trainer's own last word over the wire: success (1) for a stop (8), or for its lowest power (5) or level (4);
    # Fitness Machine Service 1.0, 4.16.2. An indication of the control point is characteristic 0x2AD9.
    answers = []
    for row in table("raw.csv"):
        notified = json.loads(row["content"]).get("device", {}) if row["input"] == "device" else {}
        if isinstance(notified, dict) and notified.get("notified", [0, 0])[1] == 0x2AD9:
            answers.append(notified["notified"][2][:3])
    expect(answers and answers[-1] in ([0x80, 8, 1], [0x80, 5, 1], [0x80, 4, 1]), f"its last answer is {answers[-1:]}")
    expect("recording-closed" in what, "the recording was not closed")
for sentence in wrong:
    print(f"wrong: {sentence}", file=sys.stderr)
sys.exit(1 if wrong else 0)
