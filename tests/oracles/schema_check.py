#!/usr/bin/env python3
"""Holds the JSON Schemas in docs/ against an independent validator: the built-in sessions must pass, and each of them
broken in one way must not. Needs Python 3.11 and the package `jsonschema`.
"""

import copy
import json
import pathlib
import sys
import tomllib

from jsonschema import Draft202012Validator

ROOT = pathlib.Path(__file__).resolve().parents[2]

RIDER = {
    "name": "Lamp keeper",
    "threshold": 180,
    "power_cap": 260,
    "sprint_cap": 500,
    "w_prime": 15000,
    "age": 41,
    "max_heart_rate": 182,
    "rest_heart_rate": 56,
    "heart_rate_ceiling": 170,
    "pause_after": "0:20",
    "effort_map": [0.0, 0.2, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02],
    "confirmed": ["threshold"],
}


def first_block(session):
    return session["block"][0]


def first_cue(session):
    return first_block(session)["cue"][0]


def set_in(where, key, value):
    def change(session):
        where(session)[key] = value

    return change


def drop_in(where, key):
    def change(session):
        del where(session)[key]

    return change


def deep_set(session):
    leaf = first_block(session)
    session["block"] = [{"repeat": 2, "block": [{"repeat": 2, "block": [{"repeat": 2, "block": [leaf]}]}]}]


def itself(session):
    return session


SESSION_BREAKS = [
    *[drop_in(itself, key) for key in ("format", "name", "purpose", "block")],
    *[drop_in(first_block, key) for key in ("kind", "time", "effort")],
    *[drop_in(first_cue, key) for key in ("kind", "say")],
    set_in(itself, "format", 2),
    set_in(itself, "name", ""),
    set_in(itself, "name", "x" * 81),
    set_in(itself, "purpose", "x" * 401),
    set_in(itself, "for", "nobody"),
    set_in(itself, "whole", 45),
    set_in(itself, "colour", "blue"),
    set_in(itself, "block", []),
    set_in(first_block, "time", "8"),
    set_in(first_block, "time", "8:75"),
    set_in(first_block, "effort", 11),
    set_in(first_block, "effort", [2, 3, 4]),
    set_in(first_block, "effort", "7"),
    set_in(first_block, "watts", 150),
    set_in(first_block, "kind", "free"),
    set_in(first_block, "kind", "holding"),
    set_in(first_block, "cadence", 300),
    set_in(first_block, "position", "sideways"),
    set_in(first_block, "brake", "free"),
    set_in(first_block, "stretch", "yes"),
    set_in(first_block, "repeat", 3),
    set_in(first_cue, "before_end", "0:10"),
    set_in(first_cue, "say", "x" * 301),
    set_in(first_cue, "say", ""),
    set_in(first_cue, "kind", "shout"),
    deep_set,
]

RIDER_BREAKS = [
    ("threshold", 10),
    ("threshold", "180"),
    ("power_cap", 9000),
    ("sprint_cap", 9000),
    ("w_prime", 1),
    ("age", 41.5),
    ("max_heart_rate", 400),
    ("rest_heart_rate", 1),
    ("heart_rate_ceiling", 400),
    ("pause_after", "soon"),
    ("effort_map", [0, 1]),
    ("confirmed", ["age"]),
    ("confirmed", ["threshold", "threshold"]),
    ("name", ""),
    ("nickname", "x"),
]


def validator(name):
    schema = json.loads((ROOT / "docs" / name).read_text())
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def main() -> int:
    faults, checks = [], 0

    def expect(valid, instance, good, label):
        nonlocal checks
        checks += 1
        errors = list(valid.iter_errors(instance))
        if good and errors:
            faults.append(f"{label}: {errors[0].message}")
        if not good and not errors:
            faults.append(f"{label}: passed and should not have")

    session = validator("session.schema.json")
    paths = sorted((ROOT / "sessions").glob("*.toml"))
    for path in paths:
        good = tomllib.loads(path.read_text())
        expect(session, good, True, path.stem)
        for number, change in enumerate(SESSION_BREAKS):
            broken = copy.deepcopy(good)
            change(broken)
            expect(session, broken, False, f"{path.stem}, break {number}")
    rider = validator("rider.schema.json")
    expect(rider, RIDER, True, "a full rider")
    expect(rider, {}, True, "an empty rider")
    for key, value in RIDER_BREAKS:
        expect(rider, {**RIDER, key: value}, False, f"rider with {key} = {value!r}")
    for fault in faults:
        print(fault, file=sys.stderr)
    if not paths:
        print("no sessions found", file=sys.stderr)
        return 1
    print(f"{checks} checks, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
