"""The German of the program and of its sessions, spelled as the dictionary of another program has it (hunspell, de_DE).

Words that are right and in no dictionary, compounds and terms of the trade, stand in tests/data/german_words.txt; one of
them that nobody uses any more is a fault too. Needs hunspell and its German dictionary.
"""

import pathlib
import re
import subprocess
import sys
import tomllib

ROOT = pathlib.Path(__file__).resolve().parents[2]
OWN = ROOT / "tests/data/german_words.txt"

# What is no prose: figures, code between ticks, paths and options, tags.
NO_PROSE = re.compile(r"\{[^}]*\}|`[^`]*`|<[^>]*>|--?[a-z][a-z-]+|\S*[/\\_=]\S*|[a-z]+\.(?:toml|csv|zip|html|json)")

# The keys of a session file that hold words.
SPOKEN = {"name", "purpose", "say", "hint", "note"}


def words_in(table, into):
    """Everything that a session says."""
    for key, value in table.items():
        if isinstance(value, str) and key in SPOKEN:
            into.append(value)
        for part in value if isinstance(value, list) else [value]:
            if isinstance(part, dict):
                words_in(part, into)


def texts():
    """Every German text, with the file that it stands in."""
    for path in sorted((ROOT / "src/text/german").glob("*.toml")):
        yield path.name, list(tomllib.loads(path.read_text("utf-8")).values())
    sessions = sorted((ROOT / "sessions/german").glob("*.toml"))
    assert sessions, "there are no German sessions"
    for path in sessions:
        said = []
        words_in(tomllib.loads(path.read_text("utf-8")), said)
        yield f"german/{path.name}", said


def unknown(prose):
    """The words that the dictionary does not have."""

    def asked(text):
        command = ["hunspell", "-d", "de_DE", "-i", "utf-8", "-l"]
        return subprocess.run(command, input=text, capture_output=True, text=True, check=True).stdout.split()

    # A point at the end of a sentence is taken for a part of its last word, so what is left without it is asked again.
    bare = {word.strip(".-’'") for word in asked(prose)}
    return {word for word in asked("\n".join(sorted(bare))) if len(word) > 1}


def main():
    assert unknown("Die Bremse ist geloest.\n") == {"geloest"}, "the dictionary lets everything pass, or nothing"
    own = set(OWN.read_text("utf-8").split()) if OWN.exists() else set()
    used, wrong, count = set(), [], 0
    for name, said in texts():
        count += len(said)
        found = unknown("\n".join(NO_PROSE.sub(" ", text) for text in said))
        used |= found & own
        wrong += [f"{name}: {word}" for word in sorted(found - own)]
    wrong += [f"{OWN.name}: nobody uses {word}" for word in sorted(own - used)]
    print("\n".join(wrong) or f"{count} German texts are spelled as the dictionary has it; {len(own)} words are our own.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
