#!/usr/bin/env python3
"""The README's map and the links of all documents lead somewhere: map.py ROOT

The map is the section `## The map` of README.md: one line a path, `- `path` what it is`.
Every path must exist, and every folder of src/ and of the top must be on the map.
"""
import os
import re
import sys

import house

HEADING = "## The map"
ENTRY = re.compile(r"^- `([^`]+)`")
LINK = re.compile(r"\]\(([^)\s]+)\)")
NOT_MAPPED = {"subprojects"}


def map_entries(root):
    """(line number, path) of each entry; None when the README has no map."""
    if not os.path.exists(os.path.join(root, "README.md")):
        return None
    text = house.lines(root, "README.md")
    if HEADING not in text:
        return None
    entries = []
    for number in range(text.index(HEADING) + 1, len(text)):
        if text[number].startswith("## "):
            break
        match = ENTRY.match(text[number])
        if match:
            entries.append((number + 1, match.group(1)))
    return entries


def exists(root, path):
    """A file, or a folder that holds one: an empty folder is not part of the tree."""
    full = os.path.join(root, path)
    return os.path.isfile(full) or bool(house.files(full))


def folders(root, top):
    """Folders below top that exist in that sense."""
    held = {path.split("/")[0] for path in house.files(os.path.join(root, top)) if "/" in path}
    return sorted(f for f in held if not f.startswith("."))


def dead_links(root):
    for path in house.files(root, suffixes=(".md",)):
        for number, line in enumerate(house.lines(root, path), 1):
            for target in LINK.findall(line):
                target = target.split("#")[0]
                if not target or re.match(r"^[a-z]+:", target):
                    continue
                if not os.path.exists(os.path.join(root, os.path.dirname(path), target)):
                    yield f"{path}:{number}: link to {target}, which does not exist"


def problems(root):
    entries = map_entries(root)
    if not entries:
        return [f'README.md:1: no map (a section "{HEADING}" with lines "- `path` ...")']
    found = [f"README.md:{number}: {path} is on the map but does not exist"
             for number, path in entries if not exists(root, path)]
    mapped = [path.rstrip("/") for _, path in entries]
    wanted = [f for f in folders(root, "") if f not in NOT_MAPPED]
    wanted += [f"src/{f}" for f in folders(root, "src")]
    for folder in wanted:
        if not any(path == folder or path.startswith(folder + "/") for path in mapped):
            found.append(f"README.md: {folder} exists but is not on the map")
    return found + list(dead_links(root))


if __name__ == "__main__":
    sys.exit(house.finish(problems(sys.argv[1]), "every path on the map exists"))
