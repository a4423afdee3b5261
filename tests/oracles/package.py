#!/usr/bin/env python3
"""Validates the data packages of rides' folders with `frictionless`, whose rules are not ours.

Usage: package.py FOLDER...

Each table must also have every column that its file has. Then the first folder is broken in several ways, in copies, and
each breach must be found: a validator that finds nothing in them would prove nothing. Exit 1 with a sentence for each
thing that is wrong. Needs frictionless (5.x).
"""

import csv
import json
import shutil
import sys
import tempfile
from pathlib import Path

from frictionless import Package, system


def faults(folder):
    """What the validator finds, each as its kind and its words."""
    with system.use_context(trusted=True):
        report = Package(str(folder / "datapackage.json")).validate()
    return [(kind, f"{place}: {words}") for place, kind, words in report.flatten(["name", "type", "message"])]


def edit(name, change):
    def act(folder):
        path = folder / name
        text = path.read_text(encoding="utf-8")
        changed = change(text)
        assert changed != text, f"the breach of {name} changes nothing"
        path.write_text(changed, encoding="utf-8")

    return act


def cell(column, value):
    """Puts a value into a cell of the first row of the samples."""
    def change(text):
        lines = text.split("\n")
        header, row = next(csv.reader([lines[0]])), next(csv.reader([lines[1]]))
        row[header.index(column)] = value
        return "\n".join([lines[0], ",".join(row), *lines[2:]])

    return edit("samples.csv", change)


BREACHES = {
    "a word in a column of numbers": (cell("plan_s", "soon"), "type-error"),
    "a kind of block that there is not": (cell("kind", "nap"), "constraint-error"),
    "an empty cell where there must be none": (cell("mode", ""), "constraint-error"),
    "a time that is none": (cell("utc", "yesterday"), "type-error"),
    "a second that is there twice": (edit("samples.csv", lambda text: text + text.split("\n")[1] + "\n"), "primary-key"),
    "another name of a column": (edit("samples.csv", lambda text: text.replace("power_w", "watts", 1)), "incorrect-label"),
    "a row that is cut off": (edit("samples.csv", lambda text: text[: text.rstrip("\n").rindex(",") - 20]), "missing-cell"),
    "an event without its word": (edit("events.csv", lambda text: text.replace(",start,", ",,", 1)), "constraint-error"),
}


def main(folders):
    if not folders:
        print(__doc__)
        return 2
    wrong = []
    for folder in map(Path, folders):
        wrong += [f"{folder.name}: {kind}: {words}" for kind, words in faults(folder)]
        package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
        for resource in package["resources"]:
            with open(folder / resource["path"], newline="", encoding="utf-8") as file:
                header = next(csv.reader(file))
            fields = [field["name"] for field in resource["schema"]["fields"]]
            if fields != header:
                wrong.append(f"{folder.name}: {resource['path']} has the columns {header}, the package says {fields}")
            if not all(field.get("description") for field in resource["schema"]["fields"]):
                wrong.append(f"{folder.name}: a column of {resource['path']} is not described")
    for what, (breach, kind) in BREACHES.items():
        with tempfile.TemporaryDirectory() as room:
            copy = Path(room) / "ride"
            shutil.copytree(folders[0], copy)
            breach(copy)
            found = [found for found, _ in faults(copy)]
            if kind not in found:
                wrong.append(f"{what} is not found: {found}")
    for sentence in wrong:
        print(sentence)
    if not wrong:
        print(f"{len(folders)} data packages are valid, and {len(BREACHES)} planted breaches are found.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
