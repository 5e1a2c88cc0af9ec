#!/usr/bin/env python3
"""No file over 600 lines, no function over 80: sizes.py ROOT

The code is laid out by clang-format, so a function's body is what stands between a `{` and a
`}` in the first column; its length is counted from the line that names it.
"""
import statistics
import sys

import house

FILE_MOST = 600
FUNCTION_MOST = 80


def functions(text):
    """(first line, name, length) of each function."""
    start = None
    for number, line in enumerate(text, 1):
        if line == "{":
            start = number
            while start > 1 and (text[start - 2][:1].isalpha() or text[start - 2][:1] == " "):
                start -= 1  # the declarator, however many lines it takes
        elif line == "}" and start:
            head = " ".join(text[start - 1:number]).split("(")[0]
            yield start, head.split()[-1].lstrip("*"), number - start + 1
            start = None


def problems(root, lengths=None):
    found = []
    for path in house.code(root):
        text = house.lines(root, path)
        count = len(text) - 1
        if count > FILE_MOST:
            found.append(f"{path}:{FILE_MOST + 1}: {count} lines; the most is {FILE_MOST}")
        for number, name, length in functions(text):
            if lengths is not None:
                lengths.append((length, f"{path}:{number}: {name}"))
            if length > FUNCTION_MOST:
                found.append(f"{path}:{number}: {name} has {length} lines;"
                             f" the most is {FUNCTION_MOST}")
    return found


if __name__ == "__main__":
    seen = []
    wrong = problems(sys.argv[1], seen)
    if seen:
        print(f"{len(seen)} functions, median {statistics.median(n for n, _ in seen):g} lines")
        for count, where in sorted(seen, reverse=True)[:5]:
            print(f"  {count:3} lines  {where}")
    sys.exit(house.finish(wrong, "no file or function is too long"))
