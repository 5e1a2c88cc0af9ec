#!/usr/bin/env python3
"""What the pure floors' libraries want from outside: purity.py docs/layers.txt LIBRARY.a...

Reads the built static libraries with nm and objdump. Refused are symbols that docs/layers.txt
does not allow (files, clocks, threads, printing ...), symbols of a floor that the floor must not
know, and variables that outlive a call (.data, .bss, thread-local).
"""
import fnmatch
import os
import re
import subprocess
import sys

import house

CHECKED = re.compile(r"^__(\w+)_chk$")  # fortified twin of a function
LASTING = re.compile(r"^\.(data|bss|tdata|tbss)(?!\.rel\.ro)")


def run(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def floor_of(library):
    return re.sub(r"^lib|\.a$", "", os.path.basename(library))


def symbols(library):
    """(defined, wanted): names the library defines; (object, name) it wants."""
    defined, wanted = set(), []
    member = "?"
    for line in run("nm", "-g", library).splitlines():
        if line.endswith(":"):
            member = os.path.basename(line[:-1])
            continue
        words = line.split()
        if len(words) == 2 and words[0] in "Uwv":
            wanted.append((member, words[1]))
        elif len(words) == 3:
            defined.add(words[2])
    return defined, wanted


def lasting_variables(library):
    """(object, section, name) of every variable that is not constant."""
    found, member = [], "?"
    for line in run("objdump", "-t", library).splitlines():
        head = re.match(r"^(\S+):\s+file format", line)
        if head:
            member = os.path.basename(head.group(1))
            continue
        entry = re.match(r"^[0-9a-f]+ (.{7}) (\S+)\s+([0-9a-f]+)\s+(?:\.hidden )?(\S+)$", line)
        if not entry:
            continue
        flags, section, size, name = entry.groups()
        thread_local = section.startswith((".tdata", ".tbss"))  # these lack the object flag
        is_variable = ("O" in flags or thread_local) and int(size, 16) > 0
        if is_variable and (LASTING.match(section) or section == "*COM*"):
            found.append((member, section, name))
    return found


def allowed(layers, floor, name):
    name = CHECKED.sub(r"\1", name)
    names = [name, name[:-1]] if name.endswith("f") else [name]
    for floors, patterns in layers.symbols:
        if floors == {"any"} or floor in floors:
            if any(fnmatch.fnmatchcase(n, p) for n in names for p in patterns):
                return True
    return False


def problems(layers_path, libraries):
    layers = house.Layers(layers_path)
    floors = {floor_of(library): library for library in libraries}
    found = [f"{name}: not a pure floor of docs/layers.txt" for name in floors
             if name not in layers.pure]
    defined = {floor: symbols(library)[0] for floor, library in floors.items()}
    for floor, library in floors.items():
        if floor not in layers.pure:
            continue
        known = set(defined[floor])
        for below in layers.may[floor]:
            known |= defined.get(below, set())
        for member, name in symbols(library)[1]:
            if name not in known and not allowed(layers, floor, name):
                owner = [f for f, names in defined.items() if name in names]
                where = f"of {owner[0]}, which {floor} must not know" if owner else "from outside"
                found.append(f"{floor}/{member}: wants {name} {where}")
        for member, section, name in lasting_variables(library):
            found.append(f"{floor}/{member}: variable {name} outlives a call ({section})")
    return found


if __name__ == "__main__":
    if not (house.has("nm") and house.has("objdump")):
        house.skip("no nm and objdump here")
    sys.exit(house.finish(problems(sys.argv[1], sys.argv[2:]),
                          f"{len(sys.argv) - 2} pure libraries want nothing they should not"))
