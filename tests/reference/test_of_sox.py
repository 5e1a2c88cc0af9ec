#!/usr/bin/env python3
"""Captures made by sox, a program for sound in general: test_of_sox.py PROGRAM.

sox synthesises a sine, its `speed` effect plays it at a known ratio: what a deck does. Promise: the speed
within 0.001 % of that ratio, whatever the rate, depth and number of channels.
"""
import subprocess
import unittest

import reference
from reference import Case, surroundings

EVENSPOOL = reference.program()
SOX = reference.tool("sox", "sox")

WITHIN_PERCENT = 0.001


class Speed(Case):
    def made(self, name, ratio, *, rate=48000, tone=3150, seconds=20, channels=1, coding=(),
             effects=()):
        path = self.path(name)
        voices = [word for _ in range(channels) for word in ("sine", str(tone))]
        words = [SOX, "-R", "-V1", "-n", "-r", str(rate), *coding, path, "synth", str(seconds),
                 *voices, "gain", "-6", "speed", repr(ratio), "rate", "-v", str(rate), *effects]
        done = subprocess.run(words, capture_output=True, timeout=120, env=surroundings(),
                              check=False)
        self.assertEqual(done.returncode, 0, (words, done.stderr))
        return path

    def measured(self, path, ratio, *, tone=3150, channels=1, rate=48000, bits=None, pure=True):
        document = self.check(EVENSPOOL, "--tone", str(tone), path)
        self.near(document["speed"]["error_percent"], 100.0 * (ratio - 1.0), WITHIN_PERCENT, path)
        self.near(document["tone"]["measured_hz"], tone * ratio, tone * WITHIN_PERCENT / 100.0, path)
        self.assertEqual(document["capture"]["samplerate_hz"], rate)
        self.assertEqual(document["capture"]["channels"], channels)
        if bits:
            self.assertEqual(document["capture"]["bits"], bits, path)
        if pure:
            self.assertEqual(document["components"], [], path)
        return document

    def test_ratios(self):
        for ratio in (0.88, 0.985, 0.99937, 1.0, 1.0004, 1.0123, 1.06, 1.12):
            with self.subTest(ratio=ratio):
                self.measured(self.made(f"ratio-{ratio}.wav", ratio, seconds=30), ratio)

    def test_a_minute(self):
        ratio = 0.9963
        document = self.measured(self.made("minute.wav", ratio, seconds=60), ratio)
        self.near(document["speed"]["drift_percent_per_min"], 0.0, WITHIN_PERCENT, "drift")
        self.near(document["capture"]["duration_s"], 60.0 / ratio, 0.001, "duration")

    def test_rates(self):
        for rate, tone in ((8000, 3000), (11025, 3150), (16000, 1000), (22050, 3150),
                           (32000, 6300), (44100, 440), (88200, 3150), (96000, 3000),
                           (192000, 10000), (384000, 3150)):
            with self.subTest(rate=rate):
                path = self.made(f"rate-{rate}.wav", 1.0071, rate=rate, tone=tone, seconds=15)
                self.measured(path, 1.0071, rate=rate, tone=tone)

    def test_codings(self):
        codings = ((8, "unsigned-integer"), (16, "signed-integer"), (24, "signed-integer"),
                   (32, "signed-integer"), (32, "floating-point"), (64, "floating-point"))
        for bits, kind in codings:
            with self.subTest(bits=bits, kind=kind):
                path = self.made(f"coding-{bits}-{kind}.wav", 0.9923,
                                 coding=("-b", str(bits), "-e", kind))
                self.measured(path, 0.9923, bits=bits)

    def test_companded_codings(self):
        for kind in ("a-law", "mu-law"):
            with self.subTest(kind=kind):
                path = self.made(f"{kind}.wav", 0.9923, rate=8000, tone=3000,
                                 coding=("-b", "8", "-e", kind))
                # harmonics of such coarse steps fold back beside the tone: no pure tone any more
                self.measured(path, 0.9923, rate=8000, tone=3000, pure=False)

    def test_containers(self):
        for name, bits in (("c8.aiff", 8), ("c16.aiff", 16), ("c24.aiff", 24), ("c32.aiff", 32),
                           ("f16.flac", 16), ("f24.flac", 24), ("w16.w64", 16), ("w24.w64", 24),
                           ("w32.w64", 32), ("m16.caf", 16), ("a24.au", 24)):
            with self.subTest(name=name):
                path = self.made(name, 1.0217, rate=44100, coding=("-b", str(bits)))
                self.measured(path, 1.0217, rate=44100, bits=bits)

    def test_ogg(self):
        for rate in (44100, 48000):
            path = self.made(f"lossy-{rate}.ogg", 1.0217, rate=rate, channels=2, seconds=30)
            document = self.check(EVENSPOOL, "--tone", "3150", path)
            self.near(document["speed"]["error_percent"], 2.17, WITHIN_PERCENT, path)

    def test_channels(self):
        for channels in (2, 3, 6, 8, 16, 32):
            with self.subTest(channels=channels):
                path = self.made(f"channels-{channels}.wav", 0.9811, channels=channels, seconds=12)
                self.measured(path, 0.9811, channels=channels)

    def test_the_better_channel_of_two(self):
        for good in (1, 2):
            mix = ["remix", "1", "2v0.001"] if good == 1 else ["remix", "1v0.001", "2"]
            path = self.made(f"better-{good}.wav", 1.013, channels=2, coding=("-b", "16"),
                             effects=mix)
            document = self.check(EVENSPOOL, "--tone", "3150", path)
            self.assertEqual(document["capture"]["channel_used"], good)
            self.near(document["speed"]["error_percent"], 1.3, WITHIN_PERCENT, path)

    def test_standard_input(self):
        ratio = 0.9877
        with open(self.made("pipe.wav", ratio, coding=("-b", "24")), "rb") as wav:
            document = self.check(EVENSPOOL, "--tone", "3150", "-", given=wav.read())
        self.near(document["speed"]["error_percent"], 100.0 * (ratio - 1.0), WITHIN_PERCENT, "wav")
        with open(self.made("pipe.raw", ratio, coding=("-b", "16", "-e", "signed-integer", "-L")),
                  "rb") as raw:
            document = self.check(EVENSPOOL, "--tone", "3150", "--raw", "s16le,48000,1", "-",
                                  given=raw.read())
        self.near(document["speed"]["error_percent"], 100.0 * (ratio - 1.0), WITHIN_PERCENT, "raw")

    def test_a_part_of_it(self):
        """Two speeds one after the other: each half by itself."""
        slow, fast = self.made("slow.wav", 0.99, seconds=15), self.made("fast.wav", 1.01, seconds=15)
        both = self.path("both.wav")
        subprocess.run([SOX, slow, fast, both], check=True, env=surroundings())
        document = self.check(EVENSPOOL, "--tone", "3150", "--end", "15", both)
        self.near(document["speed"]["error_percent"], -1.0, WITHIN_PERCENT, "first half")
        document = self.check(EVENSPOOL, "--tone", "3150", "--start", "15.5", both)
        self.near(document["speed"]["error_percent"], 1.0, WITHIN_PERCENT, "second half")


if __name__ == "__main__":
    unittest.main()
