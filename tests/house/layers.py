#!/usr/bin/env python3
"""Every #include of src/ and include/evenspool/ against docs/layers.txt: layers.py ROOT"""
import fnmatch
import os
import re
import sys

import house

INCLUDE = re.compile(r'^\s*#\s*include\s*(?:"([^"]+)"|<([^>]+)>|(\S.*))')


def floor_of(path):
    """The floor a file belongs to, or None: src/<floor>/... and include/evenspool/<floor>/..."""
    parts = path.split("/")
    if parts[0] == "src" and len(parts) > 2:
        return parts[1]
    if parts[:2] == ["include", "evenspool"] and len(parts) > 3:
        return parts[2]
    return None


def own_header(layers, path, floor, name):
    """What is wrong with #include "name" in a file of that floor; None when nothing is."""
    parts = name.split("/")
    public = parts[0] == "evenspool"
    target = parts[1] if public and len(parts) > 2 else parts[0]
    if target not in layers.may or len(parts) < (3 if public else 2):
        return f'"{name}" names no floor; write "evenspool/<floor>/x.h" or "<floor>/x.h"'
    if target != floor and target not in layers.may[floor]:
        return f"{floor} must not include {target} ({name})"
    if not public and target in layers.pure:
        if path.startswith("include/"):
            return f"a public header must not include the private {name}"
        if target != floor:
            return f"{name} is private to {target}; use its public header"
    return None


def foreign_header(layers, floor, name):
    matching = [floors for pattern, floors in layers.owners if fnmatch.fnmatch(name, pattern)]
    if matching:
        owners = set().union(*matching)
        if floor in owners:
            return None
        return f"<{name}> belongs to {', '.join(sorted(owners))}, not to {floor}"
    free = layers.headers["any"] + ([] if floor in layers.pure else layers.headers["outer"])
    if any(fnmatch.fnmatch(name, pattern) for pattern in free):
        return None
    if any(fnmatch.fnmatch(name, pattern) for pattern in layers.headers["outer"]):
        return f"<{name}> is not for the pure floor {floor}"
    return f"<{name}> has no owner in docs/layers.txt"


def problems(root):
    layers = house.Layers(os.path.join(root, "docs/layers.txt"))
    found = []
    for path in house.files(root, ("src", "include/evenspool"), (".c", ".h")):
        floor = floor_of(path)
        if floor not in layers.may:
            found.append(f"{path}:1: stands on no floor of docs/layers.txt")
            continue
        if path.startswith("include/") and floor not in layers.pure:
            found.append(f"{path}:1: only pure floors have public headers")
        for number, line in enumerate(house.lines(root, path), 1):
            match = INCLUDE.match(line)
            if not match:
                continue
            own, foreign, odd = match.groups()
            if own:
                wrong = own_header(layers, path, floor, own)
            elif foreign:
                wrong = foreign_header(layers, floor, foreign)
            else:
                wrong = f"an include that can't be followed: {odd}"
            if wrong:
                found.append(f"{path}:{number}: {wrong}")
    return found


if __name__ == "__main__":
    sys.exit(house.finish(problems(sys.argv[1]), "every include keeps to its floor"))
