"""Kills rides and looks at what they leave; see `run` beside this. Reads the files with Python's own csv alone."""

import csv
import io
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from datetime import datetime
from pathlib import Path

TABLES = {"samples.csv": 21, "events.csv": 5, "notes.csv": 5}
SESSION_S = 360
# A kill is to cost no more of a ride than this, seconds by the wall, on a machine that keeps nobody waiting.
MOST_LOST_S = 1.0
# From the start of a process to the first second of its ride, at the paces that are used here.
BEGINS_S = 0.5


class Wrong(Exception):
    """Something that must not be."""


def check(holds, sentence):
    if not holds:
        raise Wrong(sentence)


def moment(text):
    return datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def table(path, cells):
    """The records of a file without its header, and what stands behind the last line end."""
    content = path.read_bytes()
    end = content.rfind(b"\n") + 1
    check(content.count(b"\0") == 0, f"{path.name}: zero bytes, which nobody wrote")
    records = list(csv.reader(io.StringIO(content[:end].decode("utf-8"), newline=""), strict=True))
    for number, record in enumerate(records, start=1):
        check(len(record) == cells, f"{path.name}, line {number}: {len(record)} cells")
    return records[1:], content[end:]


def logs(folder):
    """The raw logs in the order of the parts."""
    parts = [folder / "raw.csv"]
    while (following := folder / f"raw-{len(parts) + 1}.csv").exists():
        parts.append(following)
    return parts


class Witness(threading.Thread):
    """Does beside a ride what its writer does, and no more: a line, made to last, twenty times a second. What keeps it
    waiting, a busy machine or a slow disk, keeps everything waiting."""

    def __init__(self, path):
        super().__init__(daemon=True)
        self.path, self.over, self.late = path, False, []
        self.start()

    def run(self):
        with open(self.path, "ab", buffering=0) as file:
            due = time.monotonic()
            while not self.over:
                file.write(b"here\n")
                os.fdatasync(file.fileno())
                done = time.monotonic()
                self.late.append((done, done - due))
                due = max(due + 0.05, done)
                time.sleep(max(0.0, due - time.monotonic()))

    def latest(self):
        """How late it was at most in the last five seconds, seconds."""
        since = time.monotonic() - 5.0
        self.late = [one for one in self.late if one[0] >= since]
        return max((late for _, late in self.late), default=0.0)


class Killer:
    def __init__(self, program, session, room):
        self.witness = Witness(room / "witness")
        self.program, self.session, self.room = program, session, room
        self.env = {**os.environ, "STILLROAD_HOME": str(room / "home")}
        self.worst = self.late = self.started = 0.0
        self.counts = {}

    def count(self, what):
        self.counts[what] = self.counts.get(what, 0) + 1

    def start(self, arguments):
        self.started = time.time()
        return subprocess.Popen(
            [self.program, *arguments], env=self.env, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )

    def run(self, *arguments):
        done = subprocess.run(
            [self.program, *map(str, arguments)], env=self.env, stdin=subprocess.DEVNULL, capture_output=True, timeout=300,
        )
        return done.returncode, (done.stdout + done.stderr).decode("utf-8", "replace")

    def kill(self, process, after_s):
        """Kills a process so long after its start; gives the wall clock then, none where it had ended by itself."""
        try:
            process.wait(timeout=after_s)
            return None
        except subprocess.TimeoutExpired:
            at = time.time()
            process.kill()
            process.wait()
            return at

    def look(self, folder, killed=False, at=None, pace=1, part=1):
        """What must be so of a folder whatever happened; `at` is the wall clock when this part of it was killed."""
        torn = []
        found = {}
        for name, cells in TABLES.items():
            if not (folder / name).exists():
                check(killed, f"{name} is missing")
                found[name] = []
                continue
            found[name], tail = table(folder / name, cells)
            if tail:
                torn.append(name)
        check(killed or not torn, f"torn: {torn}")
        rows = found["samples.csv"]
        for number, row in enumerate(rows, start=1):
            check(int(row[0]) == number, f"samples.csv: row {number} is second {row[0]}")
        for log in logs(folder):
            if not log.exists():
                check(killed, f"{log.name} is missing")
                continue
            _, tail = table(log, 4)
            check(killed or not tail or log != logs(folder)[-1], f"{log.name} is torn")
        closed = [event for event in found["events.csv"] if event[3] == "recording-closed"]
        check(len(closed) <= 1 and closed == found["events.csv"][-1:][: len(closed)], "recording-closed is not the last event")
        log = folder / ("raw.csv" if part == 1 else f"raw-{part}.csv")
        lines = table(log, 4)[0] if log.exists() else []
        if at is not None and not closed:
            self.loses_little(lines, at, pace)
        return rows, found["events.csv"], bool(closed)

    def loses_little(self, lines, at, pace):
        """The log has a line at least every second of a ride; that it gives the rows beside it is the replay's to say."""
        late, allowed = self.witness.latest(), MOST_LOST_S
        if lines:
            # The program's clock runs `pace` times as fast as the wall's, from the moment that the log's head tells.
            began = json.loads(lines[0][2])["epoch_ms"] / 1000
            lost = at - began - int(lines[-1][0]) / 1e6 / pace
            self.worst = max(self.worst, lost)
        else:
            # Nothing of it is there: then it was killed before there was a second to keep.
            lost, allowed = at - self.started, MOST_LOST_S + BEGINS_S
        self.late = max(self.late, late)
        check(lost <= allowed + late,
              f"{lost:.2f} s of the ride were not on the disk when it was killed; a bare writer was {late:.2f} s late")

    def readable(self, folder):
        status, said = self.run("replay", folder)
        check(status == 0 and "panicked" not in said, f"the replay ended with {status}: {said[-600:]}")
        status, said = self.run("review", folder, "--json")
        check(status == 0 and "panicked" not in said, f"the review ended with {status}: {said[-600:]}")

    def one(self, number, seed):
        chance = random.Random(f"{seed}/{number}")
        rides = self.room / f"rides-{number}"
        pace = chance.choice([100, 100, 50, 20])
        kit = [*(["--heart", "practice"] if chance.random() < 0.7 else []),
               *(["--meter", "practice"] if chance.random() < 0.3 else []),
               "--mode", chance.choice(["target-power", "target-power", "effort-only"])]
        process = self.start(["ride", str(self.session), "--trainer", "practice", "--pace", str(pace), "--out", str(rides),
                              "--seed", str(number), *kit])
        at = self.kill(process, chance.uniform(0.02, 4.5))
        self.count("killed" if at else "ended before it was killed")
        folders = list(rides.iterdir()) if rides.exists() else []
        check(len(folders) <= 1, f"{len(folders)} folders")
        if not folders or not (folders[0] / "ride.toml").exists() or (folders[0] / "ride.toml").stat().st_size == 0:
            self.count("before anything was kept")
            return
        folder = folders[0]
        rows, events, closed = self.look(folder, True, at, pace)
        if not (folder / "raw.csv").exists() or (folder / "raw.csv").stat().st_size == 0:
            self.count("before anything was kept")
            return
        if all((folder / name).exists() for name in TABLES):
            self.readable(folder)
        ended = any(event[3] == "end" for event in events)
        what = chance.random()
        if closed:
            status, said = self.run("resume", folder, "--pace", "max")
            check(status == 1 and "was closed when it ended" in said, f"a closed ride was gone on with: {said[-300:]}")
        elif ended or not rows or what < 0.25:
            self.close(folder)
        elif what < 0.9:
            self.resume(folder, rows, chance)
        else:
            self.count("left as it was")

    def close(self, folder):
        before = {path.name: path.read_bytes() for path in folder.iterdir()}
        status, said = self.run("resume", folder, "--close")
        check(status == 0, f"closing ended with {status}: {said[-300:]}")
        for name, content in before.items():
            if name == "recording.lock":
                check(not (folder / name).exists(), "the lock is still there")
            elif name == "events.csv":
                whole = content[: content.rfind(b"\n") + 1]
                check((folder / name).read_bytes().startswith(whole), "events.csv was changed")
            else:
                check((folder / name).read_bytes() == content, f"{name} was changed")
        events, tail = table(folder / "events.csv", TABLES["events.csv"])
        check(not tail and events[-1][3:] == ["recording-closed", "closed-later"], f"events.csv ends with {events[-1:]}")
        self.count("closed later")

    def resume(self, folder, rows, chance):
        kept = list(rows)
        for _ in range(4):
            if chance.random() >= 0.4:
                break
            part = len(logs(folder)) + 1
            process = self.start(["resume", str(folder), "--pace", "100"])
            at = self.kill(process, chance.uniform(0.02, 3.0))
            self.count("killed again" if at else "ended in the second part")
            rows, events, closed = self.look(folder, True, at, 100, part)
            check(rows[: len(kept)] == kept, "rows of before are not as they were")
            kept = list(rows)
            self.readable(folder)
            if closed:
                break
            if any(event[3] == "end" for event in events):
                self.close(folder)
                return
        else:
            closed = False
        rows, events, closed = self.look(folder, True)
        if not closed:
            status, said = self.run("resume", folder, "--pace", "max")
            check(status == 0, f"going on ended with {status}: {said[-600:]}")
        rows, events, closed = self.look(folder)
        check(closed, "the recording is not closed")
        check(rows[: len(kept)] == kept, "rows of before are not as they were")
        check(len(rows) == SESSION_S, f"{len(rows)} rows for a session of {SESSION_S} s")
        check(not (folder / "recording.lock").exists(), "the lock is still there")
        self.readable(folder)
        self.count("gone on with to the end")


def main(program, session, kills, seed, first):
    print(f"kill: {kills} kills, seed {seed}, from number {first}")
    kept = os.environ.get("KILL_ROOM")
    room = Path(kept or tempfile.mkdtemp())
    room.mkdir(parents=True, exist_ok=True)
    killer = Killer(program, session, room.resolve())
    wrong = 0
    for number in range(first, kills + 1):
        try:
            killer.one(number, seed)
            shutil.rmtree(room / f"rides-{number}", ignore_errors=True)
        except Wrong as error:
            wrong += 1
            print(f"kill: number {number}: {error}", file=sys.stderr)
        if number % 50 == 0:
            print(f"kill: {number} of {kills}, {wrong} wrong, {killer.worst:.2f} s lost at most", flush=True)
    if not kept:
        shutil.rmtree(room, ignore_errors=True)
    for what, times in sorted(killer.counts.items()):
        print(f"kill: {times} {what}")
    print(f"kill: {killer.worst:.2f} s of a ride lost at most, by the wall's clock; a bare writer beside it was "
          f"{killer.late:.2f} s late at most")
    check(killer.counts.get("killed", 0) > 0, "nothing was killed at all")
    return 1 if wrong else 0


if __name__ == "__main__":
    arguments = sys.argv[1:]
    sys.exit(main(arguments[0], Path(arguments[1]), *map(int, arguments[2:])))
