#!/usr/bin/env python3
"""`clock` on a sound card that is not there (audio.sh), whose clock is the computer's own:
test_clock.py PROGRAM"""
import json
import os
import shutil
import subprocess
import sys
import threading
import time
import unittest

from sound_card import PATIENCE_S, RATE, OnSoundCard, shell, some_tries

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, USAGE, AROUND = 0, 2, 4


class Clock(OnSoundCard):
    def run_it(self, *words, expect=DONE, **more):
        done = subprocess.run([PROGRAM, "clock", *words], env=self.env, capture_output=True,
                              timeout=PATIENCE_S, check=False, text=True, **more)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        return done

    def wait_for_a_listener(self):
        stop = time.monotonic() + PATIENCE_S
        while not shell("pactl list short source-outputs", self.env) and time.monotonic() < stop:
            time.sleep(0.1)

    def sentence(self, done, *parts):
        self.assertEqual(done.stdout, "")
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertTrue(done.stderr.endswith(".\n"), done.stderr)
        for part in parts:
            self.assertIn(part, done.stderr)

    @some_tries
    def test_finds_the_servers_clock_to_be_the_computers(self):
        done = self.run_it("--input", "cable_in", "--seconds", "8", "--json")
        self.assertEqual(done.stderr, "")
        told = json.loads(done.stdout)
        self.assertEqual((told["schema"], told["input"]), ("evenspool.clock/1", "cable_in"))
        self.assertEqual(told["rate_hz"], RATE)
        self.assertGreater(told["used_s"], 3.0)
        print(f"{told['error_ppm']:+.2f} ppm +- {told['line_u95_ppm']:.2f} ppm against its own "
              f"clock in {told['used_s']:.1f} s; blocks unsteady by {told['jitter_ms']:.2f} ms")
        self.assertLess(abs(told["error_ppm"]), 3 * told["line_u95_ppm"] + 1)
        self.assertGreaterEqual(told["u95_ppm"], told["line_u95_ppm"])
        self.assertFalse(told["direct"])
        codes = [note["code"] for note in told["notes"]]
        self.assertIn("sound-server", codes)
        kept = told["reference"]["disciplined"]
        word = {True: "clock-disciplined", False: "clock-free", None: "clock-unknown"}[kept]
        self.assertIn(word, codes)
        self.assertGreaterEqual(told["reference"]["limit_ppm"], 1.0 if kept else 50.0)
        if told["clock_ppm"] is None:
            self.assertGreater(told["u95_ppm"], 5.0)
        else:
            self.assertEqual(told["clock_ppm"], told["error_ppm"])

    @some_tries
    def test_says_it_in_words(self):
        done = self.run_it("--input", "cable_in", "--seconds", "4")
        said = " ".join(done.stdout.split())
        self.assertIn("cable_in samples ", said)
        self.assertIn("ppm (95 %) of 48000 Hz.", said)
        self.assertIn("--clock-ppm", said)
        self.assertTrue(all(len(line) <= 80 for line in done.stdout.splitlines()))

    @some_tries
    def test_a_pulled_plug_is_told(self):
        def pull():
            self.wait_for_a_listener()
            time.sleep(5.0)
            shell("audio_unplug", self.env)
            shell("audio_plug", self.env)
        thread = threading.Thread(target=pull)
        thread.start()
        self.addCleanup(thread.join)
        told = json.loads(self.run_it("--input", "cable_in", "--seconds", "12", "--json").stdout)
        self.assertGreaterEqual(told["interruptions"], 1)
        self.assertLess(told["used_s"], 11.0)
        self.assertIn("interrupted", [note["code"] for note in told["notes"]])

    def test_what_is_wrong_is_said(self):
        self.sentence(self.run_it("--input", "gramophone", expect=AROUND), '"cable_in"')
        self.sentence(self.run_it("--seconds", "1", expect=USAGE), "--seconds")


if __name__ == "__main__":
    if not all(shutil.which(name) for name in ("pulseaudio", "pactl", "pacat")):
        print("no sound server is installed (pulseaudio, pulseaudio-utils, libasound2-plugins)")
        sys.exit(77)
    unittest.main(verbosity=1)
