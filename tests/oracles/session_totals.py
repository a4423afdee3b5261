#!/usr/bin/env python3
"""Reckons the built-in sessions' totals with Python's own TOML reader, independently of the program.

Writes tests/data/session_totals.json, which tests/it/plan.rs compares with what the program reads. Needs Python 3.11.
With --check it writes nothing and fails where the file no longer agrees with the sessions.
"""

import json
import pathlib
import sys
import tomllib

ROOT = pathlib.Path(__file__).resolve().parents[2]
OUT = ROOT / "tests" / "data" / "session_totals.json"


def seconds(clock: str) -> int:
    total = 0
    for piece in clock.split(":"):
        total = total * 60 + int(piece)
    return total


def unrolled(blocks):
    for block in blocks:
        if "repeat" in block:
            for _ in range(block["repeat"]):
                yield from unrolled(block["block"])
        else:
            yield block


def totals(session):
    by_kind, starts, cues, at = {}, [], 0, 0
    efforts = []
    for block in unrolled(session["block"]):
        length = seconds(block["time"])
        starts.append(at)
        at += length
        by_kind[block["kind"]] = by_kind.get(block["kind"], 0) + length
        cues += len(block.get("cue", []))
        # A block asks for one of these; a free block for none.
        loads = ("effort", "threshold", "watts", "level", "slope")
        efforts.append(next((block[key] for key in loads if key in block), None))
    main = sum(length for kind, length in by_kind.items() if kind not in ("warm-up", "cool-down"))
    return {
        "name": session["name"],
        "whole_s": at,
        "main_s": main,
        "by_kind_s": by_kind,
        "starts_s": starts,
        "efforts": efforts,
        "cues": cues,
    }


def main() -> int:
    found = {}
    for path in sorted((ROOT / "sessions").glob("*.toml")):
        with path.open("rb") as file:
            found[path.stem] = totals(tomllib.load(file))
    text = json.dumps(found, indent=1, sort_keys=True) + "\n"
    if "--check" in sys.argv:
        if OUT.read_text() != text:
            print(f"{OUT} does not agree with the sessions: run {sys.argv[0]}", file=sys.stderr)
            return 1
        print(f"{len(found)} sessions agree")
        return 0
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
