#!/usr/bin/env python3
"""Judges rides against the Bluetooth bench by the bench's own log: what arrived at the emulated trainer.

    check_ride.py LOGS HERE CASE...

LOGS holds trainer.log and btmon.txt of the run and rides/CASE/ with the recording, what was printed and the exit
status; HERE holds the sessions and the rider. Expected figures are reckoned here from those files, not taken from the
program. Op codes and results: Fitness Machine Service 1.0, 4.16. Rows of the conformance page that the cases show are
compared with rows.json beside this, from which the page is made; STILLROAD_WRITE_DOCS=1 writes it anew after a whole run.
"""
import json
import os
import pathlib
import sys

from judges import CASES, NOTHING_RIDDEN
from ride_case import Case


def main():
    logs, here, names = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3:]
    lines = [json.loads(line) for line in (logs / "trainer.log").read_text().splitlines()]
    parts, current = {}, None
    for line in lines:
        if line["ev"] == "mark" and line["text"].startswith("case "):
            current = line["text"].removeprefix("case ")
        if current:
            parts.setdefault(current, []).append(line)
    failed, shown = False, {}
    # Writes without response would not show in the trainer's own log; the capture of the air has them.
    commands = (logs / "btmon.txt").read_text(errors="replace").count("ATT: Write Command")
    requests = (logs / "btmon.txt").read_text(errors="replace").count("ATT: Write Request")
    if commands or not requests:
        failed = True
        print(f"FAILED: C29: {commands} writes without response, {requests} with")
    else:
        shown["C29"] = ["every case"]
    for name in names:
        session, judge = CASES[name]
        case = Case(name, parts.get(name, []), logs / "rides" / name, here / session, here / "rider.toml")
        if name not in NOTHING_RIDDEN and not case.rows:
            case.expect(False, f"nothing was recorded; {case.text('errors.txt')[-400:]}")
        else:
            judge(case)
        failed |= bool(case.faults)
        for row in (row for row, right in case.shown.items() if right):
            shown.setdefault(row, []).append(name)
        print(f"{name}: {'FAILED' if case.faults else 'passed'} ({len(case.rows)} rows, {len(case.writes)} writes)")
        for fault in case.faults[:20]:
            print(f"  {fault}")
        if len(case.faults) > 20:
            print(f"  and {len(case.faults) - 20} more")
    failed |= not check_page(shown, names, here / "rows.json")
    sys.exit(failed)


def check_page(shown, names, kept):
    """Whether the rows of docs/conformance.md that say so were shown by this run: by each case of it, where not all ran."""
    shown = {row: shown[row] for row in sorted(shown, key=lambda row: int(row[1:]))}
    whole = set(names) == set(CASES)
    if whole and os.environ.get("STILLROAD_WRITE_DOCS"):
        kept.write_text(json.dumps(shown, indent=1) + "\n")
    wanted = json.loads(kept.read_text())
    if not whole:
        wanted = {row: [case for case in cases if case in names or case == "every case"] for row, cases in wanted.items()}
        wanted = {row: cases for row, cases in wanted.items() if cases}
    missing = [f"{row} by {case}" for row, cases in wanted.items() for case in cases if case not in shown.get(row, [])]
    surplus = [f"{row} by {case}" for row, cases in shown.items() for case in cases if case not in wanted.get(row, [])]
    for what, which in (("not shown, and docs/conformance.md says so", missing), ("shown, and not in rows.json", surplus)):
        if which:
            print(f"FAILED: rows {what}: {', '.join(which)}")
    return not missing and not surplus


if __name__ == "__main__":
    main()
