#!/usr/bin/env python3
"""`tape read --source` from outside: test_of_tape_listen.py PROGRAM. The tape is what `tape write` makes, and
what is right is its plan: names, levels, times."""
import json
import os
import signal
import subprocess
import time
import unittest

import terminal
from tape_case import (AROUND, DONE, INPUT, PROGRAM, USAGE, SideCase, environment,
                       small)

SMALL = small([
    {"kind": "leader", "name": "leader", "seconds": 1},
    {"kind": "speed", "name": "speed", "hz": 3150, "level_db": -6, "seconds": 8},
    {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 2},
    {"kind": "azimuth-broadband", "name": "azimuth", "level_db": -20, "seconds": 4},
    {"kind": "end", "name": "end"}])


class Case(SideCase):
    PROGRAMME = SMALL
    env = environment()

    def run_it(self, *words, expect=DONE, **more):
        done = self.call("tape", "read", *words, text=True, **more)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        return done

    def listen(self, *words, **more):
        return self.run_it("--source", "file:side.wav", "--unpaced", "-p", "small.json", *words,
                           **more)


class Listening(Case):
    def test_a_line_for_each_section_then_the_note(self):
        done = self.listen()
        self.assertEqual(done.stderr, "")
        lines = done.stdout.splitlines()
        self.assertTrue(all(len(line) <= 80 for line in lines), lines)
        rows = [line.split(None, 2) for line in lines if line[2:6].strip()[:1].isdigit()]
        self.assertEqual([row[1] for row in rows[:4]], ["Programme", "speed", "level", "azimuth"])
        self.assertIn("small, side a;", rows[0][2])
        self.assertRegex(rows[1][2], r"heard: speed [+-]0\.00\d %")
        self.assertIn("heard: level -12.00 and -12.00 dB full scale", rows[2][2])
        self.assertRegex(rows[3][2], r"heard: right later by [+-]0\.0\d us")
        self.assertLess(lines.index("The side is over."), lines.index("What to do"))

    def test_the_note_is_that_of_the_capture(self):
        heard = self.listen().stdout.split("file:side.wav\n")[-1]
        read = self.run_it("-p", "small.json", "side.wav").stdout.split("side.wav\n")[-1]
        self.assertEqual(heard, read)

    def test_json_is_one_document_and_the_lines_go_elsewhere(self):
        done = self.listen("--json")
        document = json.loads(done.stdout)
        self.assertEqual(document["schema"], "evenspool.tape/1")
        self.assertEqual(document["file"], "file:side.wav")
        found = {section["name"]: section for section in document["sections"]}
        self.assertTrue(all(found[name]["found"] for name in ("speed", "level", "azimuth", "end")))
        self.assertAlmostEqual(found["speed"]["error_percent"], 0.0, delta=0.002)
        self.assertIn("The side is over.", done.stderr)
        self.assertIn("level -12.00 and -12.00 dB", done.stderr)

    def test_what_is_known_is_taken_off(self):
        document = json.loads(self.listen("--json", "--tape-error", "0.4", "--level", "-14").stdout)
        self.assertAlmostEqual(document["speed"]["error_percent"], 0.4, delta=0.003)
        self.assertAlmostEqual(document["channels"][0]["level_error_db"], 2.0, delta=0.01)
        document = json.loads(self.listen("--json", "--recorded-here", "--bias", "middle").stdout)
        self.assertEqual((document["recorded_here"], document["bias"]), (True, "middle"))

    def test_the_recording_is_the_capture(self):
        self.listen("--record", "kept.wav")
        document = json.loads(self.run_it("-p", "small.json", "--json", "kept.wav").stdout)
        self.assertTrue(all(s["found"] for s in document["sections"] if s["kind"] != "leader"))
        self.assertIn("kept.wav", self.listen("--record", "kept.wav", expect=AROUND).stderr)
        self.listen("--record", "kept.wav", "--force")
        if os.path.exists("/dev/full"):
            os.symlink("/dev/full", self.path("full.wav"))
            done = self.listen("--record", "full.wav", "--force", expect=AROUND)
            self.assertIn("full", done.stderr)

    def kept_of_five_seconds(self):
        """Seconds that the recording's head knows of when the program was killed after five."""
        process = subprocess.Popen(
            [PROGRAM, "tape", "read", "--source", "file:side.wav", "-p", "small.json", "--record",
             "cut.wav", "--force"], cwd=self.folder, env=self.env, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        process.stdout.readline()  # it listens
        time.sleep(5)
        process.kill()
        process.communicate()
        done = self.run_it("--json", "-p", "small.json", "cut.wav", expect=INPUT)
        self.assertIn(json.loads(done.stdout)["code"], ("nothing-heard", "no-markers"))
        with open(self.path("cut.wav"), "rb") as file:
            content = file.read()
        form, data = content.index(b"fmt "), content.index(b"data")
        bytes_a_second = int.from_bytes(content[form + 16:form + 20], "little")
        told = int.from_bytes(content[data + 4:data + 8], "little")
        return told / bytes_a_second

    def test_a_recording_outlives_kill_9(self):
        kept_s = 0.0
        for _ in range(3):  # the machine may stand still meanwhile
            kept_s = max(kept_s, self.kept_of_five_seconds())
            if kept_s >= 3.8:
                break
        self.assertGreaterEqual(kept_s, 3.8)  # all but a second

    def test_another_programme_is_told(self):
        done = self.run_it("--source", "file:side.wav", "--unpaced", expect=INPUT)
        self.assertIn("--programme", done.stderr)
        done = self.run_it("--source", "file:side.wav", "--unpaced", "--json", expect=INPUT)
        self.assertEqual(json.loads(done.stdout)["code"], "unknown-programme")

    def test_stopped_it_measures_what_was_heard(self):
        process = subprocess.Popen(
            [PROGRAM, "tape", "read", "--source", "file:side.wav", "-p", "small.json", "--json"],
            cwd=self.folder, env=self.env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE)
        self.addCleanup(lambda: process.poll() is None and (process.kill(), process.wait()))
        said = b""
        while b"side a" not in said:
            byte = process.stderr.read(1)
            self.assertTrue(byte, said)
            said += byte
        time.sleep(7)  # of the speed section, which is paced
        process.send_signal(signal.SIGINT)
        out, rest = process.communicate(timeout=60)
        self.assertEqual(process.returncode, DONE, rest)
        document = json.loads(out)
        found = {section["name"]: section["found"] for section in document["sections"]}
        self.assertEqual((found["speed"], found["azimuth"]), (True, False))
        self.assertIn("sections-missing", [w["code"] for w in document["warnings"]])
        self.assertIn(b"Stopped.", rest)

    def test_on_a_terminal_q_ends_it(self):
        shown = terminal.Terminal(
            [PROGRAM, "tape", "read", "--source", "file:" + self.path("side.wav"), "-p",
             self.path("small.json")], dict(self.env, TERM="xterm"))
        self.addCleanup(shown.close)
        before = shown.settings()
        place = lambda: any("to go; speed" in line for line in shown.text())
        self.assertTrue(shown.run(30, place), shown.text())
        shown.type(b"q")
        self.assertEqual(shown.wait(), INPUT)  # nothing was measured yet
        self.assertEqual(shown.settings(), before)
        text = " ".join(shown.raw.decode().split())
        for words in ("q or Ctrl-C", "no marker of a test tape yet", "Programme small, side a",
                      "Stopped.", "nothing else of what the programme has"):
            self.assertIn(words, text)
        self.assertFalse(place())  # the line is taken away
        self.assertNotIn("?1049h", text)

    def test_wrong_words(self):
        for words, says in (
                ((), "--source"),
                (("--source", "file:side.wav", "side.wav"), "don't go together"),
                (("--unpaced", "side.wav"), "--source"),
                (("--record", "x.wav", "side.wav"), "--source"),
                (("--force", "side.wav"), "--record"),
                (("--source", "file:side.wav", "--force"), "--record"),
                (("--source", "file:side.wav", "--record", "side.wav"), "lost"),
                (("--source", "file:side.wav", "--raw", "s16le,48000,2"), "--raw"),
                (("--source", "file:side.wav", "--recorded-here", "--bias", "a,b"), "as many"),
                (("--source", "rehearse:"), "rehearse:SCENARIO"),
                (("--source", "device:", "--unpaced"), "--unpaced"),
                (("--source", "elsewhere"), "device:NAME, file:PATH")):
            done = self.run_it(*words, expect=USAGE)
            self.assertIn(says, done.stderr, words)
            self.assertEqual((done.stdout, done.stderr.count("\n")), ("", 1), words)
        done = self.run_it("--source", "file:none.wav", expect=INPUT)
        self.assertIn("no such file", done.stderr)


if __name__ == "__main__":
    unittest.main()
