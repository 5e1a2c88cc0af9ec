#!/usr/bin/env python3
"""`tape write` from outside: test_of_tape_write.py PROGRAM. What stands in the files is looked at with SciPy in
tests/reference; here, what is accepted, refused and said."""
import json
import os
import re
import tempfile
import unittest

from tape_case import AROUND, DONE, INPUT, USAGE, call, small

SOURCE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")

SMALL = small([
    {"kind": "leader", "name": "leader", "seconds": 1},
    {"kind": "speed", "name": "speed", "hz": 3000, "level_db": -6, "seconds": 2},
    {"kind": "right-only", "name": "right",
     "steps": [{"hz": 1000, "level_db": -10, "seconds": 1}]},
    {"kind": "end", "name": "end"}], {"as": 1}, equalisation="70", reference_nwb_m=200,
    broad_high_hz=16000, side_most_s=60)
SMALL_S = 1 + (2.208 + 0.4 + 2 + 0.4) + (2.208 + 0.4 + 1 + 0.4) + 2.608


class Case(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.text("small.json", json.dumps(SMALL, indent=1))

    def path(self, name):
        return os.path.join(self.folder, name)

    def text(self, name, content):
        with open(self.path(name), "w", encoding="utf-8") as out:
            out.write(content)

    def run_it(self, *words, expect=DONE, **more):
        done = call(self.folder, "tape", "write", *words, text=True, **more)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        return done

    def refused(self, *words, expect=USAGE, says=()):
        """One sentence on standard error that says it, nothing on standard output, no file left."""
        before = sorted(os.listdir(self.folder))
        done = self.run_it(*words, expect=expect)
        self.assertEqual(done.stdout, "")
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertTrue(done.stderr.startswith("evenspool: ") and done.stderr.endswith(".\n"))
        for part in (says,) if isinstance(says, str) else says:
            self.assertIn(part, done.stderr)
        self.assertEqual(sorted(os.listdir(self.folder)), before)


class Files(Case):
    def size_of(self, name):
        return os.path.getsize(self.path(name))

    def test_a_side_is_written_and_its_sheet_printed(self):
        done = self.run_it("-p", "small.json", "-o", "tape.wav")
        self.assertAlmostEqual(self.size_of("tape.wav"), SMALL_S * 48000 * 6, delta=200)
        lines = done.stdout.splitlines()
        self.assertTrue(all(len(line) <= 80 for line in lines))
        self.assertEqual(lines[0], "small, side a: 0:13 of 1:00 min")
        self.assertIn("equalisation 70, reference level (0 dB) 200 nWb/m = -12 dBFS",
                      " ".join(done.stdout.split()))
        rows = [line.split(None, 3) for line in lines if re.match(r" *\d+:\d\d", line)]
        self.assertEqual([row[0] for row in rows], ["0:00", "0:01", "0:06", "0:10"])
        self.assertEqual([row[2] for row in rows], ["leader", "speed", "right", "end"])
        self.assertEqual(rows[2][3].split(), ["1000", "Hz", "-10", "dB", "right"])
        self.assertIn("speed, drift, wow and flutter", done.stdout)
        self.assertIn("magnetic fields", done.stdout)
        self.assertEqual(done.stderr, "")

    def test_both_sides_are_two_files(self):
        self.run_it("-p", "small.json", "-o", "t.wav", "--side", "both")
        self.run_it("-p", "small.json", "-o", "one.wav", "--side", "2")
        self.assertEqual(sorted(os.listdir(self.folder)),
                         ["one.wav", "small.json", "t-a.wav", "t-b.wav"])
        with open(self.path("t-a.wav"), "rb") as a, open(self.path("t-b.wav"), "rb") as b, \
                open(self.path("one.wav"), "rb") as one:
            first, second = a.read(), b.read()
            self.assertEqual(len(first), len(second))
            self.assertNotEqual(first, second)  # the markers say which side it is
            self.assertEqual(second, one.read())

    def test_nothing_is_replaced_unasked(self):
        self.text("t-b.wav", "precious")
        self.refused("-p", "small.json", "-o", "t.wav", "--side", "both", expect=AROUND,
                     says=("t-b.wav", "--force"))
        self.refused("-p", "small.json", "-o", "u.wav", "--cues", "small.json.txt",
                     "--side", "b", "--rate", "44100.5", says="whole")
        self.text("sheet.txt", "precious")
        self.refused("-p", "small.json", "-o", "u.wav", "--cues", "sheet.txt", expect=AROUND,
                     says=("sheet.txt", "--force"))
        self.run_it("-p", "small.json", "-o", "t.wav", "--side", "both", "--force", "--cues",
                    "sheet.txt")
        self.assertGreater(self.size_of("t-b.wav"), 1000)

    def test_the_sheet_is_written_too(self):
        printed = self.run_it("-p", "small.json", "--cues", "s.txt", "--side", "both").stdout
        with open(self.path("s.txt"), encoding="utf-8") as file:
            self.assertEqual(file.read(), printed)
        self.assertNotIn("dBFS", printed)  # there is no file
        self.run_it("-p", "small.json", "-o", "t.flac", "--cues", "s.pdf", "--side", "both")
        with open(self.path("s.pdf"), "rb") as file:
            self.assertEqual(file.read(5), b"%PDF-")

    def test_json_is_one_document(self):
        done = self.run_it("-p", "small.json", "-o", "t.wav", "--side", "both", "--json", "--rate",
                           "96000", "--reference", "-20")
        document = json.loads(done.stdout)
        self.assertEqual(document["schema"], "evenspool.cues/1")
        self.assertEqual((document["samplerate_hz"], document["reference_dbfs"]), (96000, -20))
        self.assertEqual([(s["side"], s["file"]) for s in document["sides"]],
                         [("a", "t-a.wav"), ("b", "t-b.wav")])
        self.assertIsNone(document["sides"][0]["sections"][0]["marker_s"])
        self.assertEqual(document["sides"][0]["sections"][2]["channels"], "right")

    def test_disks_that_refuse(self):
        if not os.path.exists("/dev/full"):
            self.skipTest("no /dev/full here")
        for name in ("f.wav", "f.pdf", "f.txt"):
            os.symlink("/dev/full", self.path(name))
        self.refused("-p", "small.json", "-o", "f.wav", expect=AROUND, says=("f.wav", "full"))
        for sheet in ("f.pdf", "f.txt"):
            self.refused("-p", "small.json", "--cues", sheet, expect=AROUND, says=(sheet, "full"))
        with open("/dev/full", "w", encoding="utf-8") as full:
            done = self.run_it("-p", "small.json", "--cues", "g.txt", expect=AROUND, stdout=full)
        self.assertIn("Standard output", done.stderr)
        self.refused("-p", "small.json", "-o", "none/t.wav", expect=AROUND, says="folder")

    def test_a_folder_that_may_not_be_written_to(self):
        os.mkdir(self.path("locked"))
        os.chmod(self.path("locked"), 0o500)
        if os.geteuid() == 0:  # root may write anywhere, but not into the kernel's own folder
            self.refused("-p", "small.json", "-o", "/sys/kernel/t.wav", expect=AROUND, says="/sys")
        else:
            self.refused("-p", "small.json", "-o", "locked/t.wav", expect=AROUND, says="may not")


class Usage(Case):
    def test_it_has_to_go_somewhere(self):
        self.refused(says=("-o FILE", "--to"))
        self.refused("-o", "a.wav", "--to", "device:", says="together")
        self.refused("--to", "line", says="device:NAME")
        self.refused("--to", "device:", "--side", "both", says="One side")
        self.refused("--ready", "-o", "a.wav", says="--to")
        self.refused("-o", "a.mp9", "-p", "small.json", says=".wav")
        self.refused("-o", "a.wav", "--cues", "a.doc", says=".pdf")
        self.refused("-o", "a.wav", "--side", "c", says="--side")
        self.refused("more", says="tape write")

    def test_settings_that_do_not_fit_the_programme(self):
        self.refused("-p", "cassette", "-o", "a.wav", "--rate", "32000", says="too low")
        self.refused("-p", "cassette", "-o", "a.wav", "--reference", "-4", says="loudest")
        one = {**SMALL, "sides": SMALL["sides"][:1]}
        self.text("one.json", json.dumps(one))
        self.refused("-p", "one.json", "-o", "a.wav", "--side", "b", says="one side")
        self.refused("-p", "one.json", "-o", "a.wav", "--side", "both", says="one side")

    def test_lists_what_is_built_in(self):
        listed = self.run_it("--list").stdout
        rows = re.findall(r"^(\S+) +(\d+):(\d\d) of +(\d+):(\d\d) ", listed, re.M)
        self.assertGreaterEqual(len(rows), 7)
        for _, minutes, seconds, most, _ in rows:  # 1 % for decks that run fast
            self.assertLess(int(minutes) * 60 + int(seconds), 0.99 * 60 * int(most))
        with open(os.path.join(SOURCE, "src", "command", "programme_option.h"),
                  encoding="utf-8") as file:
            choices = re.search(r'"(cassette\|[^"]*)"', file.read()).group(1).split("|")
        self.assertEqual(choices, [row[0] for row in rows])
        with open(os.path.join(SOURCE, "docs", "programmes.md"), encoding="utf-8") as file:
            told = re.findall(r"^\| `([a-z0-9.-]+)` \| [^|]* \| (\d+:\d\d) \|", file.read(), re.M)
        self.assertEqual(told, [(row[0], f"{row[1]}:{row[2]}") for row in rows])


class Programmes(Case):
    def test_what_is_printed_can_be_used(self):
        for name in ("cassette", "reel-19"):
            printed = self.run_it("--print", "-p", name).stdout
            self.text("mine.json", printed)
            self.assertEqual(json.loads(printed)["schema"], "evenspool.programme/1")
            self.assertEqual(self.run_it("--print", "-p", "mine.json").stdout, printed)
            both = [json.loads(self.run_it("-p", which, "--cues", f"{name}-{i}.txt", "--json").stdout)
                    for i, which in enumerate((name, "mine.json"))]
            self.assertEqual(*both)

    def test_the_example_of_the_docs_works(self):
        with open(os.path.join(SOURCE, "docs", "programmes.md"), encoding="utf-8") as file:
            docs = file.read()
        example = re.search(r"^    \{\n(    .*\n)+?    \}\n", docs, re.M).group(0)
        self.text("docs.json", re.sub(r"^    ", "", example, flags=re.M))
        self.assertEqual(json.loads(self.run_it("--print", "-p", "docs.json").stdout)["name"],
                         "kitchen-radio")

    def test_a_bad_one_is_told_with_line_and_column(self):
        lines = json.dumps(SMALL, indent=1).splitlines()
        at = next(i for i, line in enumerate(lines) if '"hz": 1000' in line)
        column = lines[at].index("1000") + 1
        for bad, sentence in (("12", "step 1: the tone must be 20 to 22000 Hz."),
                              ('"loud"', '"hz" wants a number.')):
            changed = lines[:at] + [lines[at].replace("1000", bad)] + lines[at + 1:]
            self.text("bad.json", "\n".join(changed))
            self.refused("-p", "bad.json", "-o", "a.wav", expect=INPUT,
                         says=("bad.json: Line %d, column %d: " % (at + 1, column), sentence))
        self.text("bad.json", "\n".join(lines[:at] + [lines[at].replace("hz", "herz")]
                                        + lines[at + 1:]))
        self.refused("-p", "bad.json", "--print", expect=INPUT,
                     says=("Line %d, column %d: " % (at + 1, lines[at].index('"hz') + 1), '"herz"'))
        self.text("bad.json", "\n".join(lines[:at]))
        self.refused("-p", "bad.json", "-o", "a.wav", expect=INPUT, says=("Line %d, " % at, "JSON"))

    def test_a_side_that_is_too_long_for_its_tape(self):
        long = json.loads(json.dumps(SMALL))
        long["sides"][0]["sections"][1]["seconds"] = 55
        self.text("long.json", json.dumps(long, indent=1))
        self.refused("-p", "long.json", "-o", "a.wav", expect=INPUT,
                     says=("Side 1 takes 65.6 s, but a side of the tape has only 60.0 s", "Line "))

    def test_files_that_are_no_programme(self):
        self.refused("-p", "nowhere", "-o", "a.wav", expect=INPUT, says=("nowhere", "--list"))
        self.refused("-p", ".", "-o", "a.wav", expect=INPUT, says="folder")
        self.text("empty.json", "")
        self.refused("-p", "empty.json", "-o", "a.wav", expect=INPUT, says="Line 1")
        self.text("other.json", '{"schema": "evenspool.check/1"}')
        self.refused("-p", "other.json", "-o", "a.wav", expect=INPUT, says="evenspool.programme/1")
        with open(self.path("huge.json"), "wb") as file:
            file.truncate(3 << 20)
        self.refused("-p", "huge.json", "-o", "a.wav", expect=INPUT, says="far too long")


if __name__ == "__main__":
    unittest.main()
