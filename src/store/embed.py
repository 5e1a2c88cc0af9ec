#!/usr/bin/env python3
"""The steps of the schema as a C source: embed.py OUT 1.sql 2.sql ... (in order)"""
import os
import sys


def array(name, data):
    numbers = [str(byte) for byte in data] + ["0"]
    rows = [", ".join(numbers[i:i + 20]) for i in range(0, len(numbers), 20)]
    return f"static const char {name}[] = {{\n    " + ",\n    ".join(rows) + "};\n"


def main():
    out, steps = sys.argv[1], sys.argv[2:]
    parts = ['#include "store/schema.h"\n']
    for number, path in enumerate(steps, 1):
        if os.path.basename(path) != f"{number}.sql":
            sys.exit(f"{path} stands where {number}.sql belongs")
        with open(path, "rb") as step:
            data = step.read()
        if not data.isascii():  # a char may be signed
            sys.exit(f"{path} is not plain ASCII")
        parts.append(array(f"step_{number}", data))
    names = ", ".join(f"step_{number}" for number in range(1, len(steps) + 1))
    parts.append(f"const char *const es_schema_steps[] = {{{names}}};\n")
    parts.append(f"const int es_schema_version = {len(steps)};\n")
    with open(out, "w", encoding="ascii") as source:
        source.write("\n".join(parts))


if __name__ == "__main__":
    main()
