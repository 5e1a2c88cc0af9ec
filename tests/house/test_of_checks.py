#!/usr/bin/env python3
"""Plants faults in a copy of the tree and sees each check find exactly the planted one."""
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
import unittest

import house
import layers
import layout
import map as the_map
import purity
import sizes
import words

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))


class Copy(unittest.TestCase):
    """A copy of the tree; plant() reports only what came with the planted fault."""

    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.addCleanup(self.place.cleanup)
        self.root = os.path.join(self.place.name, "tree")
        shutil.copytree(ROOT, self.root, ignore=shutil.ignore_patterns(*house.LEFT_OUT, "build*"))

    def write(self, path, text):
        full = os.path.join(self.root, path)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        with open(full, "w", encoding="utf-8") as out:
            out.write(text)

    def append(self, path, text):
        with open(os.path.join(self.root, path), encoding="utf-8") as old:
            self.write(path, old.read() + text)

    def new_problems(self, check, change):
        before = check.problems(self.root)
        change()
        return [p for p in check.problems(self.root) if p not in before]

    def sees(self, check, path, text, *expected):
        """Planting the file yields one new problem for each expected start of a line."""
        found = self.new_problems(check, lambda: self.write(path, text))
        self.assertEqual(len(found), len(expected), found)
        for problem, start in zip(found, expected):
            self.assertTrue(problem.startswith(start), f"{problem!r} is not {start!r}")


class Layers(Copy):
    def test_a_floor_above(self):
        self.sees(layers, "src/signal/planted.c", '\n#include "evenspool/task/check.h"\n',
                  "src/signal/planted.c:2: signal must not include task")

    def test_a_floor_above_from_a_public_header(self):
        self.sees(layers, "include/evenspool/tape/planted.h", '#include "evenspool/trust/x.h"\n',
                  "include/evenspool/tape/planted.h:1: tape must not include trust")

    def test_two_rooms_of_the_same_floor(self):
        self.sees(layers, "src/wave/planted.c", '#include "json/record.h"\n',
                  "src/wave/planted.c:1: wave must not include json")

    def test_a_private_header_of_another_floor(self):
        self.sees(layers, "src/task/planted.c", '#include "signal/inner.h"\n',
                  "src/task/planted.c:1: signal/inner.h is private to signal")

    def test_a_private_header_in_a_public_one(self):
        self.sees(layers, "include/evenspool/signal/planted.h", '#include "signal/inner.h"\n',
                  "include/evenspool/signal/planted.h:1: a public header must not")

    def test_a_header_that_belongs_to_another(self):
        self.sees(layers, "src/task/planted.c", "#  include <gsl/gsl_sf.h>\n",
                  "src/task/planted.c:1: <gsl/gsl_sf.h> belongs to signal, trust")

    def test_a_header_without_owner(self):
        self.sees(layers, "src/wave/planted.c", "#include <zlib.h>\n",
                  "src/wave/planted.c:1: <zlib.h> has no owner")

    def test_a_clock_in_a_pure_floor(self):
        self.sees(layers, "src/task/planted.c", "#include <time.h>\n",
                  "src/task/planted.c:1: <time.h> is not for the pure floor task")

    def test_a_name_without_floor_and_a_macro(self):
        self.sees(layers, "src/task/planted.c", '#include "near.h"\n#include WHAT\n',
                  'src/task/planted.c:1: "near.h" names no floor',
                  "src/task/planted.c:2: an include that can't be followed")

    def test_a_floor_that_does_not_exist(self):
        self.sees(layers, "src/attic/planted.c", "",
                  "src/attic/planted.c:1: stands on no floor")

    def test_what_is_allowed_passes(self):
        self.sees(layers, "src/task/planted.c",
                  '#include "evenspool/signal/x.h"\n#include "task/inner.h"\n#include <math.h>\n')
        self.sees(layers, "src/signal/planted.c", "#include <fftw3.h>\n#include <gsl/gsl_math.h>\n")
        self.sees(layers, "src/serve/planted.c",
                  '#include "live/x.h"\n#include <stdatomic.h>\n#include <sys/socket.h>\n')

    def test_a_rule_file_that_makes_no_sense(self):
        self.append("docs/layers.txt", "cellar: attic\n")
        with self.assertRaises(SystemExit) as end:
            layers.problems(self.root)
        self.assertIn("attic is not a floor", str(end.exception))


class Map(Copy):
    def test_a_path_that_is_gone(self):
        def change():
            os.makedirs(os.path.join(self.root, "src/attic"))  # empty, so not in a clone
            with open(os.path.join(self.root, "README.md"), encoding="utf-8") as old:
                text = old.read()
            self.write("README.md", text.replace(the_map.HEADING + "\n",
                                                 the_map.HEADING + "\n- `src/attic/` gone\n"))
        found = self.new_problems(the_map, change)
        self.assertEqual(len([p for p in found if "src/attic/ is on the map" in p]), 1, found)

    def test_a_folder_that_is_not_on_the_map(self):
        self.sees(the_map, "cellar/planted.c", "", "README.md: cellar exists but is not")
        self.sees(the_map, "src/attic/planted.c", "", "README.md: src/attic exists but is not")

    def test_a_dead_link(self):
        self.sees(the_map, "docs/planted.md", "[ok](layers.txt)\n[a](b.md#c) [w](https://x.org)\n",
                  "docs/planted.md:2: link to b.md")

    def test_no_map(self):
        self.write("README.md", "# nothing\n")
        self.assertEqual(len(the_map.problems(self.root)), 1)


class Sizes(Copy):
    def test_a_long_file(self):
        self.sees(sizes, "src/base/planted.c", "int a;\n" * 600)
        self.sees(sizes, "src/base/planted.c", "int a;\n" * 601, "src/base/planted.c:601: 601 lines")

    def test_a_long_function(self):
        head = "int a;\n\nstatic int *grow(int a,\n                 int b)\n{\n"
        self.sees(sizes, "tests/base/planted.c", head + "    a++;\n" * 76 + "}\n")
        self.sees(sizes, "tests/base/planted.c", head + "    a++;\n" * 77 + "}\n",
                  "tests/base/planted.c:3: grow has 81 lines")


class Words(Copy):
    def test_leftovers(self):
        for word in ("TO" + "DO", "FIX" + "ME", "XX" + "X"):
            self.sees(words, "docs/planted.md", f"ok\n{word}: later\n",
                      f"docs/planted.md:2: a leftover: {word}")

    def test_a_path_of_a_machine(self):
        for path in ("/ho" + "me/ann/x", "/ro" + "ot/x", "/wo" + "rk/x"):
            self.sees(words, "scripts/planted", f"cd {path}\n", "scripts/planted:1: a path of one")
        self.sees(words, "scripts/planted", "cd ../work/x $HOME/root/x a/work/x\n")

    def test_a_registry(self):
        self.sees(words, "page/planted.json", "https://" + "registry.example.org/x\n",
                  "page/planted.json:1: the address of a package registry")

    def test_guards(self):
        good = "#ifndef ES_SIGNAL_PLANTED_H\n#define ES_SIGNAL_PLANTED_H\n#endif\n"
        self.sees(words, "src/signal/planted.h", good)
        self.sees(words, "include/evenspool/signal/planted.h", good)
        self.sees(words, "src/task/planted.h", good,
                  "src/task/planted.h:1: guard ES_SIGNAL_PLANTED_H; wanted ES_TASK_PLANTED_H")
        self.sees(words, "src/wave/planted.h", "int a;\n", "src/wave/planted.h:1: no include guard")
        self.sees(words, "tests/support/planted.h", good.replace("SIGNAL", "TESTS"))

    def test_white_space(self):
        self.sees(words, "src/base/planted.c", "int a; \n\tint b;\nint c;",
                  "src/base/planted.c:3: the last line", "src/base/planted.c:1: white space",
                  "src/base/planted.c:2: a tab")


@unittest.skipUnless(house.has("clang-format") and layout.version() == layout.VERSION,
                     "no clang-format of the right version")
class Layout(Copy):
    def test_a_line_out_of_place(self):
        self.sees(layout, "src/base/planted.c", "int a;\nint  b;\n", "src/base/planted.c:2: not laid")


PURE = """
#include <math.h>
#include <stdlib.h>
#include <string.h>
static const char *const names[] = {"a", "b"};
const char *es_good_name(int i);
const char *es_good_name(int i) { return names[i]; }
double *es_good_create(double x);
double *es_good_create(double x)
{
    double *p = malloc(sizeof *p);
    if (p)
        *p = sin(x) + (double)sinf((float)x);
    return p;
}
"""
PLANTED = """
#include <stdio.h>
#include <time.h>
int es_bad_count(void);
int es_bad_count(void) { static int count; return ++count; }
int es_bad_shared;
_Thread_local int es_bad_own = 3;
void es_bad_print(void);
void es_bad_print(void) { printf("%ld", (long)time(NULL)); }
void es_task_call(void);
void es_bad_up(void);
void es_bad_up(void) { es_task_call(); }
"""


@unittest.skipUnless(house.has("nm") and house.has("objdump"), "no nm and objdump")
class Purity(unittest.TestCase):
    def setUp(self):
        place = tempfile.TemporaryDirectory()
        self.addCleanup(place.cleanup)
        self.place = place.name

    def library(self, floor, text, *flags):
        source, built, archive = (os.path.join(self.place, n) for n in
                                  (f"{floor}.c", f"{floor}.o", f"lib{floor}.a"))
        with open(source, "w", encoding="utf-8") as out:
            out.write(text)
        compiler = shlex.split(os.environ.get("CC", "cc"))  # may be "ccache cc"
        subprocess.run([*compiler, "-std=c17", "-fPIC", *flags, "-c", source, "-o", built],
                       check=True)
        subprocess.run(["ar", "rcT", archive, built], check=True)  # thin, as meson makes them
        return archive

    def problems(self, *libraries):
        return purity.problems(os.path.join(ROOT, "docs/layers.txt"), libraries)

    def test_clean_code_passes(self):
        self.assertEqual(self.problems(self.library("signal", PURE)), [])
        self.assertEqual(self.problems(self.library("signal", PURE, "-O2", "-D_FORTIFY_SOURCE=2",
                                                    "-fstack-protector-all")), [])

    def test_each_planted_fault_is_named(self):
        task = self.library("task", "void es_task_call(void); void es_task_call(void) {}\n")
        found = self.problems(self.library("signal", PLANTED), task)
        for part in ("wants printf from outside", "wants time from outside",
                     "wants es_task_call of task, which signal must not know",
                     "variable count", "variable es_bad_shared", "variable es_bad_own"):
            self.assertEqual(len([p for p in found if part in p]), 1, (part, found))
        self.assertEqual(len(found), 6, found)

    def test_a_library_of_another_owner(self):
        text = "double gsl_x(void); double es_y(void); double es_y(void) { return gsl_x(); }\n"
        self.assertEqual(self.problems(self.library("trust", text)), [])
        self.assertEqual(len(self.problems(self.library("tape", text))), 1)

    def test_a_floor_that_is_not_pure(self):
        self.assertEqual(len(self.problems(self.library("wave", PURE))), 1)


class ExitCodes(Copy):
    """As meson runs them: 1 and the place when something is wrong."""

    def test_each_check_ends_with_1(self):
        self.write("src/base/planted.c", '#include "task/x.h"\nint  a;\t\n' + "int b;\n" * 600)
        self.write("README.md", "# nothing\n")
        for name in ("layers", "map", "sizes", "words", "layout"):
            with self.subTest(check=name):
                if name == "layout" and not house.has("clang-format"):
                    continue
                done = subprocess.run([sys.executable, os.path.join(HERE, name + ".py"), self.root],
                                      capture_output=True, text=True, check=False)
                if done.returncode != house.SKIP:
                    self.assertEqual(done.returncode, 1, done.stdout + done.stderr)
                    self.assertIn("README.md" if name == "map" else "src/base/planted.c:",
                                  done.stdout)


if __name__ == "__main__":
    unittest.main()
