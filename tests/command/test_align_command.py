#!/usr/bin/env python3
"""`trim --adjust azimuth|level|balance` from outside: test_align_command.py PROGRAM."""
import json
import os
import subprocess
import sys
import tempfile
import unittest

import captures as cap

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, OUTSIDE, USAGE = range(3)
# docs/scenarios.md: 9.1 minutes of arc; 0.9e-3 x tan(1') / 0.047625 s = 5.4971 us each
LEANS_US = 9.1 * 5.4971


class Align(unittest.TestCase):
    def run_it(self, *words, expect=DONE):
        with tempfile.TemporaryDirectory(prefix="evenspool-") as folder:
            done = subprocess.run([PROGRAM, "trim", *words], capture_output=True, timeout=120,
                                  text=True, check=False, cwd=folder)
            self.assertEqual(done.returncode, expect, (done.stdout[-400:], done.stderr))
            self.left = {}
            for name in os.listdir(folder):
                with open(os.path.join(folder, name), encoding="utf-8") as file:
                    self.left[name] = file.read()
            return done

    def snapshots(self, *words):
        done = self.run_it("--json", "--unpaced", *words)
        return [json.loads(line) for line in done.stdout.splitlines()], done

    def test_azimuth_one_snapshot_a_line(self):
        lines, done = self.snapshots("--adjust", "azimuth", "--source", "rehearse:leaning-head",
                                     "--seconds", "8", "--session", "job.json")
        self.assertEqual(len(lines), 160)
        for line in lines:
            self.assertEqual((line["schema"], line["adjust"]), ("evenspool.align/1", "azimuth"))
            self.assertEqual(line["error_us"] is not None, line["state"] in ("reading", "there"))
            self.assertEqual((line["target_us"], line["tolerance_us"]), (0, 5))
            self.assertNotIn("error_percent", line)
        last = lines[-1]
        self.assertAlmostEqual(last["error_us"], LEANS_US, delta=last["u95_us"])
        self.assertAlmostEqual(last["pair"]["angle_arcmin"], 9.1, delta=0.1)
        self.assertAlmostEqual(last["pair"]["phase_10k_deg"], 360e-2 * LEANS_US, delta=2)
        self.assertTrue(last["pair"]["turn_known"])
        self.assertEqual(len(last["pair"]["figure"]), 192)
        self.assertIn("azimuth screw", last["advice"])
        self.assertIn("right late", done.stderr)
        job = json.loads(self.left["job.json"])
        self.assertEqual((job["schema"], job["adjust"]), ("evenspool.align-session/1", "azimuth"))
        self.assertAlmostEqual(job["as_found"]["error_us"], LEANS_US, delta=0.6)

    def test_the_angle_is_that_of_the_machines_tracks(self):
        """tan(angle) = delay v / d: 50 us at 4.7625 cm/s, 0.9 mm; at 19.05 cm/s, 4.2 mm."""
        def angle(*words):
            lines, _ = self.snapshots("--adjust", "azimuth", "--source", "rehearse:leaning-head",
                                      "--seconds", "6", *words)
            return lines[-1]["pair"]["angle_arcmin"]
        cassette, ratio = angle(), (0.1905 / 4.2e-3) / (0.047625 / 0.9e-3)
        self.assertAlmostEqual(angle("--class", "reel-19") / cassette, ratio, delta=0.001)
        with tempfile.TemporaryDirectory(prefix="evenspool-") as place:
            records = ("--records", os.path.join(place, "records.db"))
            subprocess.run([PROGRAM, "deck", "add", "Reel", "--class", "reel-19", *records],
                           stdout=subprocess.DEVNULL, check=True)
            known = ("--deck", "Reel", *records)
            self.assertAlmostEqual(angle(*known) / cassette, ratio, delta=0.001)
            self.assertAlmostEqual(angle(*known, "--class", "cassette"), cassette, delta=1e-9)

    def test_the_same_bytes_every_time(self):
        words = ("--json", "--unpaced", "--adjust", "azimuth", "--source", "rehearse:leaning-head",
                 "--seconds", "5")
        self.assertEqual(self.run_it(*words).stdout, self.run_it(*words).stdout)

    def test_a_tone_alone_warns_in_plain_lines(self):
        # 10 kHz would be needed to be ambiguous; the test tone of 3150 Hz is not
        done = self.run_it("--unpaced", "--adjust", "azimuth", "--source", "rehearse:skewed-head",
                           "--seconds", "6")
        self.assertIn("right late by 49.", done.stdout)
        self.assertNotIn("whole turn", done.stdout)
        self.assertIn("No magnetised tool", done.stdout)
        self.assertIn("mains can be within reach", done.stdout)
        self.assertIn("seal it", done.stdout)

    def test_levels_against_a_reference(self):
        for channel, error in (("left", -3.4), ("right", -5.6)):
            lines, _ = self.snapshots("--adjust", "level", "--channel", channel, "--reference",
                                      "-10", "--source", "rehearse:uneven-levels", "--seconds", "4")
            self.assertAlmostEqual(lines[-1]["error_db"], error, delta=0.05)
            self.assertEqual(lines[-1]["pair"]["channel"], channel)
            self.assertEqual(lines[-1]["pair"]["reference_dbfs"], -10)

    def test_balance(self):
        lines, done = self.snapshots("--adjust", "balance", "--source", "rehearse:uneven-levels",
                                     "--seconds", "4")
        self.assertAlmostEqual(lines[-1]["error_db"], -2.2, delta=0.03)
        self.assertIn("right softer", done.stderr)

    def test_until_there(self):
        self.run_it("--unpaced", "--adjust", "azimuth", "--target", "50", "--until", "there",
                    "--source", "rehearse:leaning-head", "--seconds", "30")
        self.run_it("--unpaced", "--adjust", "azimuth", "--until", "there", "--source",
                    "rehearse:leaning-head", "--seconds", "8", expect=OUTSIDE)

    def test_a_mono_capture(self):
        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            file.write(cap.wav16(cap.tone(6, 1000, level=0.3)))
            file.flush()
            for adjust in ("azimuth", "balance"):
                done = self.run_it("--adjust", adjust, "--source", "file:" + file.name, expect=USAGE)
                self.assertIn("needs both channels", done.stderr)
            lines, _ = self.snapshots("--adjust", "level", "--reference", "-12", "--source",
                                      "file:" + file.name)
            # a peak of 0.3 is -10.46 dBFS
            self.assertAlmostEqual(lines[-1]["error_db"], 1.54, delta=0.05)
            self.assertIsNone(lines[-1]["pair"]["right_dbfs"])

    def test_both_channels_alike_to_the_last_bit(self):
        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            file.write(cap.wav16(cap.tone(4, 1000, level=0.3), channels=2))
            file.flush()
            lines, _ = self.snapshots("--adjust", "azimuth", "--source", "file:" + file.name)
            self.assertEqual(lines[-1]["reason"], "same-sound")
            self.assertTrue(all(line["error_us"] is None for line in lines))

    def test_wrong_words(self):
        deck = ["--source", "rehearse:leaning-head"]
        for words, says in ((["--adjust", "bias"], "speed|azimuth|level|balance"),
                            (["--adjust", "azimuth", "--tone", "3150"], "--tone is for the speed"),
                            (["--adjust", "azimuth", "--tape-error", "1"], "--tape-error"),
                            (["--adjust", "azimuth", "--tape", "x"], "--tape is for the speed"),
                            (["--adjust", "azimuth", "--channel", "left"], "both channels"),
                            (["--adjust", "azimuth", "--reference", "-10"], "--adjust level"),
                            (["--adjust", "azimuth", "--tolerance", "0.2"], "from 0.5 to 100 us"),
                            (["--adjust", "level", "--target", "30"], "from -20 to 20 dB"),
                            (["--tolerance", "50"], "from 0.01 to 5 %"),
                            (["--adjust", "level", "--channel", "3"], "channel 3")):
            done = self.run_it(*deck, *words, expect=USAGE)
            self.assertEqual(done.stdout, "")
            self.assertIn(says, done.stderr)


if __name__ == "__main__":
    unittest.main()
