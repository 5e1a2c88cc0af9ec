"""What the checks of the house share: walking the tree, reading docs/layers.txt, reporting.

Every check is a module with problems(root, ...) -> list of "file:line: sentence"; an empty
list is a pass. tests/house/test_of_checks.py plants faults and sees each check find them.
"""
import os
import shutil
import sys

SKIP = 77  # meson's word for "not run"
LEFT_OUT = {".git", "node_modules", "dist", "__pycache__"}
CODE_FOLDERS = ("src", "include", "tests", "benchmarks")


def files(root, tops=("",), suffixes=("",)):
    """Paths below root, with '/' and sorted, build folders and fetched things left out."""
    found = []
    for top in tops:
        for folder, folders, names in os.walk(os.path.join(root, top)):
            folders[:] = [f for f in folders if f not in LEFT_OUT and not f.startswith("build")]
            for name in names:
                if name.endswith(tuple(suffixes)):
                    path = os.path.relpath(os.path.join(folder, name), root)
                    found.append(path.replace(os.sep, "/"))
    return sorted(found)


def code(root):
    return files(root, CODE_FOLDERS, (".c", ".h"))


def lines(root, path):
    with open(os.path.join(root, path), encoding="utf-8") as text:
        return text.read().split("\n")


class Layers:
    """docs/layers.txt: floors, pure floors, owners, free headers, wanted symbols."""

    def __init__(self, path):
        self.may = {}
        self.pure = set()
        self.owners = []  # (pattern, floors)
        self.headers = {"any": [], "outer": []}
        self.symbols = []  # (floors or {"any"}, patterns)
        with open(path, encoding="utf-8") as text:
            for number, line in enumerate(text, 1):
                line = line.split("#")[0].strip()
                if line:
                    try:
                        self._take(line)
                    except (KeyError, ValueError) as fault:
                        raise SystemExit(f"{path}:{number}: can't read this line: {fault}")

    def _take(self, line):
        head, colon, rest = line.partition(":")
        words = head.split()
        if words[0] == "pure":
            self.pure = self._floors(words[1:])
        elif words[0] == "owner":
            self.owners.append((words[1], self._floors(words[2:])))
        elif words[0] == "headers":
            self.headers[words[1]] += rest.split()
        elif words[0] == "symbols":
            floors = words[1].split(",")
            floors = {"any"} if floors == ["any"] else self._floors(floors)
            self.symbols.append((floors, rest.split()))
        elif colon and len(words) == 1:
            below = self._floors(rest.split())  # only floors that stand higher up in the file
            self.may[words[0]] = below
        else:
            raise ValueError("neither a floor nor one of: pure, owner, headers, symbols")

    def _floors(self, names):
        unknown = [n for n in names if n not in self.may]
        if unknown:
            raise ValueError(f"{unknown[0]} is not a floor above this line")
        return set(names)


def has(command):
    return shutil.which(command) is not None


def finish(found, good):
    """Prints the problems, or the good news; returns the exit code."""
    for problem in found:
        print(problem)
    print(f"{len(found)} problem(s)" if found else good)
    return 1 if found else 0


def skip(reason):
    print(f"skipped: {reason}")
    sys.exit(SKIP)
