#!/usr/bin/env python3
"""The C code is laid out as .clang-format says: layout.py ROOT (`make format` does it)"""
import re
import subprocess
import sys

import house

VERSION = "14"  # another one lays some lines out differently


def version():
    words = subprocess.run(["clang-format", "--version"], capture_output=True, text=True,
                           check=True).stdout
    match = re.search(r"version (\d+)\.", words)
    return match.group(1) if match else ""


def problems(root):
    paths = house.code(root)
    if not paths:
        return ["no C file found"]
    told = subprocess.run(["clang-format", "--dry-run", "-Werror", *paths], cwd=root,
                          capture_output=True, text=True, check=False)
    first = {}
    for path, number in re.findall(r"^(\S+?):(\d+):\d+: error:", told.stderr, re.M):
        first.setdefault(path, number)
    found = [f"{path}:{number}: not laid out by clang-format" for path, number in first.items()]
    if told.returncode and not found:
        found.append(f"clang-format: {told.stderr.strip()[:200]}")
    return found


if __name__ == "__main__":
    if not house.has("clang-format"):
        house.skip("no clang-format here")
    if version() != VERSION:
        house.skip(f"clang-format {version()} here, the code is laid out with {VERSION}")
    sys.exit(house.finish(problems(sys.argv[1]), "the code is laid out"))
