#!/usr/bin/env python3
"""`trim`, `inputs` and `bench` from outside: test_trim_command.py PROGRAM."""
import json
import os
import re
import signal
import struct
import subprocess
import sys
import tempfile
import time
import unittest
import urllib.request

import captures as cap
from terminal import Terminal

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, OUTSIDE, USAGE, INPUT, AROUND = range(5)
STATES = ("listening", "unsteady", "turning", "settling", "reading", "there", "look-first")
FINE, COARSE = 0.01, 0.1  # turns of a key: the page of the manual
GAIN = 3.0  # the scenario touchy-trimmer: percent a turn, clockwise is faster


def surroundings(**more):
    kept = {name: value for name, value in os.environ.items()
            if name.endswith("SAN_OPTIONS") or name in ("PATH", "HOME")}
    return {**kept, "TERM": "xterm", "LC_ALL": "C.UTF-8", **more}


class Case(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name

    def path(self, name):
        return os.path.join(self.folder, name)

    def file(self, name, content):
        with open(self.path(name), "wb") as out:
            out.write(content)
        return self.path(name)

    def run_it(self, *words, expect=DONE):
        done = subprocess.run([PROGRAM, *words], capture_output=True, timeout=120, text=True,
                              env=surroundings(), check=False, cwd=self.folder)
        self.assertEqual(done.returncode, expect, (done.stdout[-600:], done.stderr))
        return done

    def snapshots(self, *words, expect=DONE):
        done = self.run_it("trim", "--json", "--unpaced", *words, expect=expect)
        return [json.loads(line) for line in done.stdout.splitlines()], done

    def begin(self, *words):
        process = subprocess.Popen([PROGRAM, "trim", *words], stdout=subprocess.PIPE, text=True,
                                   stderr=subprocess.PIPE, env=surroundings(), cwd=self.folder)
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.stderr.close)
        self.addCleanup(lambda: process.poll() is None and (process.kill(), process.wait()))
        return process

    def terminal(self, *words, **more):
        terminal = Terminal([PROGRAM, "trim", *words], surroundings(), **more)
        self.addCleanup(terminal.close)
        return terminal


class Json(Case):
    def test_one_snapshot_a_line(self):
        lines, done = self.snapshots("--source", "rehearse:slow-but-steady", "--seconds", "20")
        self.assertEqual(len(lines), 400)
        for number, line in enumerate(lines, 1):
            self.assertEqual(line["schema"], "evenspool.trim/1")
            self.assertAlmostEqual(line["time_s"], 0.05 * number, 6)
            self.assertIn(line["state"], STATES)
            figure = line["state"] in ("reading", "there")
            self.assertEqual(line["error_percent"] is not None, figure, line)
            self.assertEqual(line["u95_percent"] is not None, figure, line)
            self.assertEqual((line["target_percent"], line["tolerance_percent"]), (0, 0.1))
            self.assertEqual(line["nudges"], [])
            self.assertTrue(line["advice"].endswith((".", ":", "!")), line["advice"])
        # the scenario's own speed error (scenarios.md)
        self.assertAlmostEqual(lines[-1]["error_percent"], -1.35, delta=0.05)
        self.assertLess(lines[-1]["u95_percent"], 0.05)
        self.assertIn("As found", done.stderr)
        self.assertIn("As left", done.stderr)

    def test_the_same_bytes_every_time(self):
        words = ("trim", "--json", "--unpaced", "--source", "rehearse:worn-take-up", "--seconds",
                 "15")
        self.assertEqual(self.run_it(*words).stdout, self.run_it(*words).stdout)

    def test_takes_the_tapes_error_off(self):
        # (1 + 0.005) / (1 + 0.0025): a deck 0.5 % fast, a tape recorded 0.25 % fast
        tone = self.file("tone.wav", cap.wav16(cap.tone(12, 3150 * 1.005 / 1.0025), channels=2))
        lines, _ = self.snapshots("--source", "file:" + tone, "--tape-error", "0.25", "--tape-u95",
                                  "0.04", "--tone", "3150", "--channel", "right")
        self.assertEqual(lines[-1]["state"], "reading")
        self.assertAlmostEqual(lines[-1]["error_percent"], 0.5, delta=0.002)
        self.assertGreaterEqual(lines[-1]["u95_percent"], 0.04)
        self.assertEqual(lines[-1]["tape_error_percent"], 0.25)

    def test_no_figure_without_a_tone(self):
        for name, samples in (("silence", cap.silence(6)), ("music", cap.music(6))):
            path = self.file(name + ".wav", cap.wav16(samples))
            lines, done = self.snapshots("--source", "file:" + path)
            self.assertTrue(all(line["error_percent"] is None for line in lines), name)
            self.assertIn("- (no steady reading", done.stderr)

    def test_until_there(self):
        lines, _ = self.snapshots("--source", "rehearse:right-on-speed", "--until", "there")
        self.assertEqual(lines[-1]["state"], "there")
        self.assertTrue(lines[-1]["final"])
        self.assertLess(abs(lines[-1]["final_percent"]), 0.1)
        _, done = self.snapshots("--source", "rehearse:slow-but-steady", "--until", "there",
                                 expect=OUTSIDE)
        self.assertIn("The target was not reached.", done.stderr)

    def test_the_session_as_a_document(self):
        self.snapshots("--source", "rehearse:fast-but-steady", "--session", "job.json", "--seconds",
                       "12")
        with open(self.path("job.json"), encoding="utf-8") as file:
            job = json.load(file)
        self.assertEqual(job["schema"], "evenspool.session/1")
        self.assertAlmostEqual(job["as_left"]["error_percent"], 0.85, delta=0.05)
        self.assertEqual(job["nudge_count"], 0)
        done = self.run_it("trim", "--unpaced", "--source", "rehearse:fast-but-steady", "--session",
                           "job.json", expect=AROUND)
        self.assertIn("--force", done.stderr)
        self.snapshots("--source", "rehearse:fast-but-steady", "--session", "job.json", "--seconds",
                       "2", "--force")


class Lines(Case):
    def test_plain_text_of_80_columns(self):
        done = self.run_it("trim", "--unpaced", "--source", "rehearse:slow-but-steady")
        self.assertNotIn("\x1b", done.stdout)
        for line in done.stdout.splitlines():
            self.assertLessEqual(len(line), 80, line)
        self.assertLess(done.stdout.index("mains"), done.stdout.index("listening"))
        self.assertRegex(done.stdout, r"reading +slow by 1\.3\d %, give or take 0\.0\d+ %")
        self.assertRegex(done.stdout, r"As found +-1\.3\d+ % \+- 0\.0\d+ %, slow")
        self.assertIn("Turns        0", done.stdout)

    def test_ends_cleanly_when_told_to(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            process = self.begin("--json", "--source", "rehearse:touchy-trimmer")
            self.assertTrue(process.stdout.readline())
            time.sleep(0.5)
            process.send_signal(number)
            out, err = process.communicate(timeout=60)
            self.assertEqual(process.returncode, DONE)
            self.assertIn("As found", err)
            for line in out.splitlines():
                json.loads(line)

    def test_a_reader_that_goes_away_ends_it(self):
        process = self.begin("--json", "--source", "rehearse:touchy-trimmer")
        process.stdout.readline()
        process.stdout.close()
        self.assertEqual(process.wait(timeout=60), AROUND)


class Recording(Case):
    def frames_of(self, path):
        """Frames of a float WAV file by its size: the head may not know them yet."""
        with open(path, "rb") as file:
            content = file.read()
        at = content.index(b"data") + 8
        return [pair for pair in struct.iter_unpack("<ff", content[at:at + (len(content) - at) // 8
                                                                   * 8])]

    def test_is_the_raw_capture(self):
        self.run_it("rehearse", "slow-but-steady", "-o", "whole.wav", "--seconds", "60", "--float")
        self.snapshots("--source", "rehearse:slow-but-steady", "--record", "kept.wav", "--seconds",
                       "4")
        kept = self.frames_of(self.path("kept.wav"))
        self.assertEqual(len(kept), 4 * 48000)
        self.assertEqual(kept, self.frames_of(self.path("whole.wav"))[:len(kept)])

    def lost_by_kill_9(self, name):
        """Seconds that had been heard and are not in the recording."""
        process = self.begin("--json", "--source", "rehearse:touchy-trimmer", "--record", name,
                             "--force")
        heard_s = 0.0
        while heard_s < 4.0:
            heard_s = json.loads(process.stdout.readline())["time_s"]
        process.kill()
        process.communicate()
        done = self.run_it("check", "--json", name)
        return heard_s - json.loads(done.stdout)["capture"]["duration_s"]

    def test_survives_kill_9(self):
        for name in ("cut.wav", "cut.flac"):
            lost_s = self.lost_by_kill_9(name)
            for _ in range(2):  # seconds are heard at once where the machine has stood still
                lost_s = lost_s if lost_s <= 1.0 else self.lost_by_kill_9(name)
            self.assertLessEqual(lost_s, 1.0)

    def test_a_full_disk_is_told_once(self):
        os.symlink("/dev/full", self.path("full.wav"))
        process = self.begin("--json", "--source", "rehearse:right-on-speed", "--seconds", "5",
                             "--record", "full.wav")
        out, err = process.communicate(timeout=60)
        self.assertEqual(process.returncode, AROUND)
        if out:  # found on the way: listening went on
            self.assertEqual(len(out.splitlines()), 100)
            self.assertEqual(err.count("Recording has stopped"), 1, err)
        self.assertIn("disk is full", err)

    def test_a_disk_that_fills_up_on_the_way(self):
        """A real one, of a megabyte, where the system lets us have it."""
        os.mkdir(self.path("disk"))
        inside = ["unshare", "--map-root-user", "--mount", "sh", "-c",
                  'mount -t tmpfs -o size=1m none disk && "$@"', "sh"]
        if subprocess.run([*inside, "true"], cwd=self.folder, capture_output=True,
                          check=False).returncode:
            self.skipTest("no disk of our own can be mounted here")
        script = ('"$0" trim --json --unpaced --source rehearse:right-on-speed --seconds 20 '
                  '--record disk/full.wav >lines; echo $? >code; "$0" check --json disk/full.wav')
        done = subprocess.run([*inside, "sh", "-c", script, PROGRAM], cwd=self.folder, text=True,
                              capture_output=True, timeout=60, env=surroundings(), check=False)
        with open(self.path("code"), encoding="utf-8") as file:
            self.assertEqual(int(file.read()), AROUND)
        with open(self.path("lines"), encoding="utf-8") as file:
            self.assertEqual(len(file.readlines()), 400)  # listening went on to the end
        self.assertEqual(done.stderr.count("Recording has stopped"), 1, done.stderr)
        self.assertIn("disk is full", done.stderr)
        length = json.loads(done.stdout)["capture"]["duration_s"]
        self.assertGreater(length, 2.0)  # of the 2.7 s that a megabyte holds

    def test_replaces_nothing_unasked(self):
        kept = self.file("there.wav", b"mine")
        self.snapshots("--source", "rehearse:right-on-speed", "--record", kept, expect=AROUND)
        with open(kept, "rb") as file:
            self.assertEqual(file.read(), b"mine")
        tone = self.file("tone.wav", cap.wav16(cap.tone(1)))
        done = self.run_it("trim", "--source", "file:" + tone, "--record", tone, "--force",
                           expect=USAGE)
        self.assertIn("the source itself", done.stderr)


class Refusals(Case):
    def test_wrong_words(self):
        deck = ["--source", "rehearse:right-on-speed"]
        for words, says in (([], "--source"), (["--source", "mic"], "device:NAME"),
                            (deck + ["--unpaced", "--sound", "beat"], "real time"),
                            (deck + ["--sound-level", "-20"], "--sound"),
                            (deck + ["--output", "x"], "--sound"),
                            (deck + ["--force"], "--record"),
                            (deck + ["--tolerance", "0"], "0.01"),
                            (deck + ["--sound", "song"], "none|reference"),
                            (deck + ["--channel", "3"], "channel 3"),
                            (["--source", "device:", "--unpaced"], "device"),
                            (deck + ["--until", "never"], "there|end")):
            done = self.run_it("trim", *words, expect=USAGE)
            self.assertEqual(done.stdout, "")
            self.assertIn(says, done.stderr)

    def test_wrong_inputs(self):
        text = self.file("text.wav", b"no sound at all, but quite a lot of words\n" * 9)
        for source, says in (("rehearse:nothing", "--list"), ("file:" + text, "audio"),
                             ("file:/nowhere/x.wav", "no such file"), ("file:/dev/zero", "ordinary")):
            done = self.run_it("trim", "--json", "--source", source, expect=INPUT)
            self.assertIn(says, done.stderr)
            self.assertIn(source, done.stderr)

    def test_no_such_device(self):
        done = self.run_it("trim", "--source", "device:nobody has one of these", expect=AROUND)
        self.assertRegex(done.stderr, "has no sound input|No sound input is called")
        done = self.run_it("inputs", "nobody has one of these", expect=AROUND)
        self.assertRegex(done.stderr, "has no sound input|No sound input is called")

    def test_inputs_without_any_is_no_error(self):
        document = json.loads(self.run_it("inputs", "--json", "--listen", "0").stdout)
        self.assertEqual(document["schema"], "evenspool.inputs/1")
        self.assertIsInstance(document["inputs"], list)
        self.assertIn("Inputs", self.run_it("inputs", "--listen", "0").stdout)


class Screen(Case):
    def figure(self, terminal):
        """+ fast; None while there is none."""
        found = re.search(r"(fast|slow) by (\d+\.\d+) %", "\n".join(terminal.text()))
        return found and float(found[2]) * (1 if found[1] == "fast" else -1)

    def test_one_screen_that_is_put_back(self):
        for ending in ("q", signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            terminal = self.terminal("--source", "rehearse:touchy-trimmer")
            before = terminal.settings()
            self.assertTrue(terminal.run(60, lambda: any("listening" in line
                                                         for line in terminal.text())))
            self.assertTrue(terminal.on_screen)
            self.assertNotEqual(terminal.settings(), before)
            if ending == "q":
                terminal.type(b"q")
            else:
                os.kill(terminal.pid, ending)
            self.assertEqual(terminal.wait(), DONE)
            self.assertFalse(terminal.on_screen)
            self.assertEqual(terminal.settings(), before)
            self.assertTrue(terminal.raw.rstrip().endswith(b"right."), terminal.raw[-200:])
            self.assertIn(b"\x1b[?25h", terminal.raw)
            self.assertLessEqual(terminal.widest, 80)
            self.assertTrue(any(line.startswith("As found") for line in terminal.text()))
            self.assertTrue(any("mains can be within reach" in line for line in terminal.kept))

    def test_is_put_back_after_a_fault(self):
        terminal = self.terminal("--source", "rehearse:touchy-trimmer")
        before = terminal.settings()
        self.assertTrue(terminal.run(60, lambda: terminal.on_screen and any(terminal.text())))
        os.kill(terminal.pid, signal.SIGQUIT)
        self.assertEqual(terminal.wait(), -signal.SIGQUIT)
        self.assertFalse(terminal.on_screen)
        self.assertEqual(terminal.settings(), before)

    def test_a_stop_gives_the_terminal_back_for_a_while(self):
        terminal = self.terminal("--source", "rehearse:touchy-trimmer")
        before = terminal.settings()
        listening = lambda: any("rehearse:touchy-trimmer" in line for line in terminal.text())
        self.assertTrue(terminal.run(60, listening))
        os.kill(terminal.pid, signal.SIGTSTP)
        os.waitpid(terminal.pid, os.WUNTRACED)
        self.assertTrue(terminal.run(60, lambda: not terminal.on_screen))
        self.assertEqual(terminal.settings(), before)
        os.kill(terminal.pid, signal.SIGCONT)
        self.assertTrue(terminal.run(60, listening))
        self.assertTrue(terminal.on_screen)
        terminal.type(b"q")
        self.assertEqual(terminal.wait(), DONE)
        self.assertEqual(terminal.settings(), before)

    def test_fits_a_small_terminal(self):
        terminal = self.terminal("--source", "rehearse:touchy-trimmer", lines=12, columns=40)
        self.assertTrue(terminal.run(60, lambda: self.figure(terminal) is not None))
        self.assertLessEqual(terminal.widest, 40)
        self.assertTrue(any("q ends" in line for line in terminal.text()))
        self.assertTrue(any("hands off" in line for line in terminal.text()), terminal.text())

    def turn(self, terminal, turns):
        keys = round(turns / FINE)
        coarse, fine = divmod(abs(keys), round(COARSE / FINE))
        up, right = (b"\x1b[A", b"\x1b[C") if keys > 0 else (b"\x1b[B", b"\x1b[D")
        for key in [up] * coarse + [right] * fine:
            terminal.type(key)
            terminal.run(0.05)

    def test_a_hand_on_the_keys_gets_there(self):
        """Knows how much a turn does, waits for a figure, turns by it, and is done at the end."""
        terminal = self.terminal("--source", "rehearse:touchy-trimmer", "--tone", "3150", "--until",
                                 "there", "--session", self.path("job.json"))
        seen, turns = 0, 0
        while turns < 8:
            settled = lambda: (self.figure(terminal) is not None
                               and f"Turns so far {seen}" in "\n".join(terminal.text())
                               or seen == 0 and self.figure(terminal) is not None)
            if not terminal.run(60, settled) and terminal.on_screen:
                self.fail("\n".join(terminal.text()))
            terminal.run(1.5)  # for a better one
            off = self.figure(terminal)
            if off is None or abs(off) < 0.05:
                break
            self.turn(terminal, -off / GAIN)
            turns += 1
            found = lambda: re.search(r"Turns so far (\d+)", "\n".join(terminal.text()))
            terminal.run(60, lambda: found() and int(found()[1]) > seen)
            seen = int(found()[1]) if found() else seen
        self.assertEqual(terminal.wait(120), DONE, "\n".join(terminal.text()))
        with open(self.path("job.json"), encoding="utf-8") as file:
            job = json.load(file)
        self.assertTrue(job["final"])
        self.assertLess(abs(job["as_left"]["error_percent"]), 0.1)
        self.assertAlmostEqual(job["as_found"]["error_percent"], 2.6, delta=0.1)
        self.assertGreaterEqual(job["nudge_count"], 1)


class Bench(Case):
    def begin_bench(self, *words):
        process = subprocess.Popen([PROGRAM, "bench", *words], stdout=subprocess.PIPE, text=True,
                                   stderr=subprocess.PIPE, env=surroundings(), cwd=self.folder)
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.stderr.close)
        self.addCleanup(lambda: process.poll() is None and (process.kill(), process.wait()))
        address = re.search(r"http://127\.0\.0\.1:(\d+)/\S*", process.stdout.readline())
        self.assertIsNotNone(address)
        return process, address[0], address[1]

    def test_serves_the_page_until_it_is_told_to_stop(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            process, address, _ = self.begin_bench("--port", "0", "--source",
                                                   "rehearse:touchy-trimmer")
            with urllib.request.urlopen(address, timeout=60) as page:
                self.assertEqual(page.status, 200)
                self.assertIn(b"<html", page.read())
            process.send_signal(number)
            self.assertEqual(process.wait(60), DONE)

    def test_a_port_that_is_taken(self):
        _, _, port = self.begin_bench("--port", "0")
        done = self.run_it("bench", "--port", port, expect=AROUND)
        self.assertIn(port, done.stderr)

    def test_wrong_words(self):
        for words, says, code in ((["--record", "x.wav"], "--source", USAGE),
                                  (["--source", "rehearse:right-on-speed", "--force"], "--record",
                                   USAGE),
                                  (["--port", "80.5"], "whole", USAGE),
                                  (["--port", "0", "--source", "rehearse:nothing"], "--list", INPUT),
                                  (["--port", "0", "--source", "nonsense"], "device:NAME", USAGE)):
            self.assertIn(says, self.run_it("bench", *words, expect=code).stderr)


if __name__ == "__main__":
    unittest.main(verbosity=1)
