#!/usr/bin/env python3
"""No leftovers, no traces of a machine, guards and white space in order: words.py ROOT"""
import os
import re
import sys

import house

# Put together from halves, so that this file is clean by its own measure.
LEFTOVERS = "|".join(a + b for a, b in (("TO", "DO"), ("FIX", "ME"), ("XX", "X"), ("HA", "CK")))
RULES = (
    (re.compile(rf"\b(?:{LEFTOVERS})\b"), "a leftover"),
    (re.compile(r"(?<![\w.$}>)])/(?:home|root|work|Users)/\w"), "a path of one machine"),
    (re.compile(r"https?://[\w.]*registry\b"), "the address of a package registry"),
    (re.compile(r"^(?:<{7} |>{7} |={7}$)"), "a merge that was not finished"),
)
GENERATED = ("package-lock.json",)
FOREIGN = ("COPYING",)


def text_of(root, path):
    """The file as text, or None when it is not text."""
    with open(os.path.join(root, path), "rb") as data:
        raw = data.read()
    if b"\0" in raw:
        return None
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return None


def guards_for(path):
    """Include guards that suit a header's place."""
    stem = re.sub(r"\W", "_", os.path.basename(path)).upper()
    parts = path.split("/")
    folder = [p.upper() for p in parts[:-1] if p not in ("src", "include", "evenspool")]
    names = {"_".join(["ES", *folder, stem])}
    if parts[0] in ("tests", "benchmarks"):
        names.add(f"ES_{parts[0].upper()}_{stem}")
    return names


def guard_problem(path, text):
    directives = re.findall(r"^[ \t]*#[ \t]*(\w+)[ \t]*(\w*)", text, re.M)
    wanted = guards_for(path)
    if len(directives) < 3 or directives[0][0] != "ifndef" or directives[1][0] != "define":
        return f"{path}:1: no include guard; wanted {min(wanted, key=len)}"
    if directives[0][1] != directives[1][1] or directives[0][1] not in wanted:
        return f"{path}:1: guard {directives[0][1]}; wanted {min(wanted, key=len)}"
    if directives[-1][0] != "endif":
        return f"{path}:1: something stands after the include guard"
    return None


def space_problems(path, text):
    if text and not text.endswith("\n"):
        yield f"{path}:{text.count(chr(10)) + 1}: the last line does not end"
    for number, line in enumerate(text.split("\n"), 1):
        if line != line.rstrip():
            yield f"{path}:{number}: white space at the end of the line"
        if "\t" in line and path.endswith((".c", ".h", ".py", "meson.build")):
            yield f"{path}:{number}: a tab"


def problems(root):
    found = []
    for path in house.files(root):
        name = os.path.basename(path)
        text = None if name in FOREIGN else text_of(root, path)
        if text is None:
            continue
        for number, line in enumerate(text.split("\n"), 1):
            for pattern, what in RULES:
                match = pattern.search(line)
                if match:
                    found.append(f"{path}:{number}: {what}: {match.group(0)}")
        if path.endswith(".h") and path.split("/")[0] in house.CODE_FOLDERS:
            wrong = guard_problem(path, text)
            found += [wrong] if wrong else []
        if name not in GENERATED:
            found += space_problems(path, text)
    return found


if __name__ == "__main__":
    sys.exit(house.finish(problems(sys.argv[1]), "no leftovers"))
