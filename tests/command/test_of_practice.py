#!/usr/bin/env python3
"""A test tape on the rehearsal deck, from outside: test_of_practice.py PROGRAM. What `tape read` finds must be
what the scenario says; worked values have their arithmetic beside them."""
import json
import os
import unittest

from tape_case import AROUND, DONE, INPUT, USAGE, FolderCase, small

TAPE = small([
    {"kind": "leader", "name": "leader", "seconds": 1},
    {"kind": "speed", "name": "speed", "hz": 3150, "level_db": -6, "seconds": 10},
    {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 2},
    {"kind": "azimuth-broadband", "name": "azimuth", "level_db": -20, "seconds": 4},
    {"kind": "silence", "name": "silence", "seconds": 4},
    {"kind": "distortion", "name": "distortion",
     "steps": [{"hz": 315, "level_db": level_db, "seconds": 2} for level_db in (0, 3)]},
    {"kind": "end", "name": "end"}])


class Practice(FolderCase):
    PROGRAMME = TAPE

    def run_it(self, *words, expect=DONE):
        done = self.call(*words, text=True)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        return done

    def rehearse(self, scenario, out, *words):
        self.run_it("rehearse", scenario, "-p", "small.json", "-o", out, *words)
        with open(self.path(os.path.splitext(out)[0] + ".json"), encoding="utf-8") as file:
            return json.load(file)

    def read(self, *words):
        return json.loads(self.run_it("tape", "read", "-p", "small.json", "--json", *words).stdout)

    def scenario(self, name, *lines):
        with open(self.path(name), "w", encoding="utf-8") as out:
            out.write("\n".join(lines) + "\n")
        return name

    def near(self, actual, expected, tolerance):
        self.assertIsNotNone(actual)
        self.assertLessEqual(abs(actual - expected), tolerance)

    def test_what_is_read_is_the_truth(self):
        truth = self.rehearse("skewed-head", "skewed.wav")
        self.assertEqual(truth["tape"], {"programme": "small", "side": "a",
                                         "left_reference_dbfs": -10.0,
                                         "right_reference_dbfs": -11.5,
                                         "third_harmonic_percent": 0.0})
        self.assertIsNone(truth["tone"]["nominal_hz"])
        # 0.9 mm x tan(9') / 47.625 mm/s on a tape that runs 0.25 % fast
        self.near(truth["stereo"]["delay_us"], 49.474 / 1.0025, 0.02)
        read = self.read("skewed.wav")
        self.assertTrue(all(s["found"] for s in read["sections"] if s["kind"] != "leader"))
        self.near(read["speed"]["error_percent"], truth["speed"]["error_percent"], 0.01)
        self.near(read["azimuth"]["delay_us"], truth["stereo"]["delay_us"], 0.3)
        self.near(read["azimuth"]["angle_arcmin"], 9.0, 0.06)
        self.near(read["balance_db"], -1.5, 0.05)
        for channel, level_db in zip(read["channels"], (-10.0, -11.5)):
            self.near(channel["level_db"], level_db, 0.05)
            # 50 dB over white noise up to 24 kHz, of which 20 Hz to 20 kHz is 10 lg(24 / 19.98) = 0.80 dB less
            self.near(channel["noise_db"]["unweighted"], -50.8 - (level_db + 10.0), 0.2)

    def test_while_it_plays_as_from_the_capture(self):
        self.rehearse("skewed-head", "again.flac")
        captured, heard = self.read("again.flac"), self.read(
            "--source", "rehearse:skewed-head", "--unpaced")
        self.assertEqual(heard["programme"], "small")
        for group, figure in (("speed", "error_percent"), ("azimuth", "delay_us")):
            self.near(heard[group][figure], captured[group][figure], 1e-3)

    def test_each_fault_is_found(self):
        deck = self.scenario("bad.txt", "speed-error = -2 %", "tape-error = 0.5 %", "azimuth = -3 arcmin",
                             "balance = 2.5 dB",
                             "level = -16 dBFS", "polarity = opposed", "hum = -50 dBFS",
                             "snr = 60 dB", "third-harmonic = 2 %", "start-ramp = 0.3 s")
        truth = self.rehearse(deck, "bad.wav", "--rate", "44100")
        read = self.read("bad.wav", "--tape-error", "0.5")
        self.near(truth["speed"]["error_percent"], -2.0, 1e-6)
        self.near(read["speed"]["error_percent"], -2.0, 0.01)
        # 5.4971 us a minute of arc, by a deck that is 2 % slow
        self.near(read["azimuth"]["delay_us"], -3 * 5.4971 / 0.98, 0.3)
        self.near(read["balance_db"], 2.5, 0.05)
        self.near(read["channels"][1]["level_db"], -13.5, 0.05)
        self.assertEqual((read["polarity"], truth["stereo"]["polarity"]), ("opposed", "opposed"))
        for channel in read["channels"]:
            # c = 8 % / 1.06, power A^2 of 1 and 1.995: share c A^2 / 4 / (1 - 3 c A^2 / 4)
            for step, percent in zip(channel["third_harmonic"], (2.0, 4.244), strict=True):
                self.near(step["percent"], percent, 0.01 * percent)
            self.assertIn(50, [round(line["hz"]) for line in channel["hum"]])

    def test_the_same_seed_is_the_same_capture(self):
        words = ("--seconds", "6", "--seed", "7")
        lengths = {self.rehearse("skewed-head", name, *words)["capture"]["duration_s"]
                   for name in ("one.wav", "two.wav")}
        self.assertEqual(lengths, {6.0})
        with open(self.path("one.wav"), "rb") as one, open(self.path("two.wav"), "rb") as two:
            self.assertEqual(one.read(), two.read())

    def test_what_does_not_fit_is_refused(self):
        for words, expect, says in (
                (("rehearse", "skewed-head", "--side", "b", "-o", "no.wav"), USAGE, "--programme"),
                (("rehearse", "skewed-head", "-p", "small.json", "--side", "b", "-o", "no.wav"),
                 INPUT, "no side b"),
                (("rehearse", "reel-19", "-p", "small.json", "-o", "no.wav"), INPUT, "reel-19"),
                (("rehearse", "skewed-head", "-p", "none", "-o", "no.wav"), INPUT, "programme"),
                (("tape", "read", "--source", "rehearse:none"), INPUT, "scenario"),
                (("tape", "read", "--source", "rehearse:microcassette"), INPUT, "microcassette"),
                (("tape", "read", "--source", "rehearse:reel-19", "-p", "small.json"), INPUT,
                 "cassette")):
            done = self.run_it(*words, expect=expect)
            self.assertIn(says, done.stderr, words)
            self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertFalse(os.path.exists(self.path("no.wav")))
        self.assertFalse(os.path.exists(self.path("no.json")))


if __name__ == "__main__":
    unittest.main()
