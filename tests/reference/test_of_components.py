#!/usr/bin/env python3
"""Components against the Fourier transform of the true speed curve: test_of_components.py PROGRAM.

The reference is told no more than the program: it finds the lines in the true curve's own spectrum
(numpy's FFT under a Hann window, peaks between the bins by the ratio of the two largest, exact for
that window). Rates and peaks must agree, and nothing else may be found.
"""
import unittest

import reference
from reference import Case, float_wav

np = reference.library("numpy", "python3-numpy")
reference.library("scipy", "python3-scipy")
from motion import add_line, random_motion  # noqa: E402  needs both
EVENSPOOL = reference.program()

RATE_HZ = 24000
SECONDS = 60
ERROR = 0.012


def lines_of(curve, rate_hz, least):
    """(rate [Hz], peak) of each line above 0.2 Hz of at least that peak, five times the median around it."""
    thin = 16  # the curve has nothing above 200 Hz
    curve = curve[::thin] - np.mean(curve)
    count = len(curve)
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(count) / count)
    height = 2.0 * np.abs(np.fft.rfft(curve * window)) / np.sum(window)
    found = []
    for k in range(count * thin // rate_hz // 5, len(height) - 3):
        around = np.median(height[max(1, k - 30):k + 31])
        if (height[k] > max(0.6 * least, 5.0 * around)
                and height[k] == np.max(height[k - 3:k + 4])):
            side = 1 if height[k + 1] > height[k - 1] else -1
            ratio = height[k + side] / height[k]
            off = (2.0 * ratio - 1.0) / (1.0 + ratio)
            scallop = np.sinc(off) / (1.0 - off * off)
            if height[k] / scallop >= least:
                found.append(((k + side * off) * rate_hz / thin / count, height[k] / scallop))
    return found


def pink(rms, seed):
    return random_motion(SECONDS, RATE_HZ, seed, lambda f: f ** -0.5, 0.03, 200.0, rms, ERROR)


class Components(Case):
    def heard(self, motion):
        float_wav(self.path("deck.wav"), motion.tone(3150.0), RATE_HZ)
        return self.check(EVENSPOOL, "--tone", "3150", self.path("deck.wav"))["components"]

    def compare(self, motion, least, rate_within, peak_share):
        truth = lines_of(motion.deviation(), RATE_HZ, least)
        heard = self.heard(motion)
        for rate_hz, peak in truth:
            match = [c for c in heard if abs(c["rate_hz"] - rate_hz) <= rate_within]
            self.assertEqual(len(match), 1, (rate_hz, peak, heard))
            self.alike(match[0]["peak_percent"], 100.0 * peak, peak_share, f"{rate_hz} Hz")
        for c in heard:
            if c["peak_percent"] >= 120.0 * least:
                self.assertTrue(any(abs(c["rate_hz"] - rate_hz) <= rate_within
                                    for rate_hz, _ in truth), c)
        return truth, heard

    def test_lines_in_a_quiet_deck(self):
        motion = pink(1e-5, 1)
        wanted = ((0.397, 3e-4), (0.689, 5e-4), (1.516, 4e-4), (4.54, 2e-4), (7.904, 1e-3),
                  (40.14, 3e-4), (97.3, 1e-4), (161.0, 2e-4))
        for rate_hz, peak in wanted:
            add_line(motion, rate_hz, peak, 3.0 * rate_hz)
        truth, _ = self.compare(motion, 8e-5, 0.003, 0.02)
        self.assertEqual(len(truth), len(wanted))

    def test_lines_in_a_noisy_deck(self):
        for seed in (2, 3, 4):
            with self.subTest(seed=seed):
                motion = pink(7e-4, seed)
                for rate_hz, peak in ((0.52, 1e-3), (1.31, 9e-4), (6.27, 6e-4), (30.2, 4e-4)):
                    add_line(motion, rate_hz, peak, seed + rate_hz)
                truth, _ = self.compare(motion, 3e-4, 0.01, 0.12)
                self.assertEqual(len(truth), 4)

    def test_neighbours(self):
        """Two reels 0.15 Hz apart, nine turns per minute."""
        motion = pink(1e-5, 5)
        for rate_hz, peak in ((0.45, 4e-4), (0.60, 3e-4), (7.9, 5e-4), (8.05, 5e-4)):
            add_line(motion, rate_hz, peak, 10.0 * rate_hz)
        truth, _ = self.compare(motion, 2e-4, 0.004, 0.04)
        self.assertEqual(len(truth), 4)

    def test_random_flutter_alone_has_no_lines(self):
        """Promise: in at most one minute of twenty. Of eight, two and more would come by chance of 6 %."""
        found = [self.heard(pink(1e-3, seed)) for seed in range(20, 28)]
        self.assertLessEqual(sum(1 for components in found if components), 1, found)

    def test_share_of_the_power(self):
        """The share of a line in the power of the true curve: peak squared / 2 over the mean square."""
        motion = pink(4e-4, 6)
        add_line(motion, 3.3, 8e-4, 1.0)
        whole = np.mean(motion.between(0.1, 200.001) ** 2)
        _, heard = self.compare(motion, 3e-4, 0.005, 0.06)
        self.near(heard[0]["share_percent"], 100.0 * 8e-4 ** 2 / 2.0 / whole, 5.0, "share")

    def test_harmonics_are_one_family(self):
        """A cogging motor: 12.5 Hz with its second to fourth harmonic; one component that says so."""
        motion = pink(1e-5, 7)
        for order, peak in ((1, 8e-4), (2, 4e-4), (3, 3e-4), (4, 2e-4)):
            add_line(motion, 12.5 * order, peak, 1.3 * order)
        heard = self.heard(motion)
        self.assertEqual(len(heard), 1, heard)
        self.near(heard[0]["rate_hz"], 12.5, 0.003, "fundamental")
        self.alike(heard[0]["peak_percent"], 0.08, 0.02, "fundamental")
        self.assertEqual(heard[0]["harmonics"], 3)

    def test_the_picture_of_a_sliding_line(self):
        """A reel that empties: its rate slides by 60 mHz a minute; the rate told is that at mid-capture."""
        count = SECONDS * RATE_HZ
        time_s = np.arange(count) / RATE_HZ
        middle_s, slope = SECONDS / 2.0, 0.06 / 60.0
        angle = 2.0 * np.pi * (1.2 * time_s + 0.5 * slope * (time_s - middle_s) ** 2)
        speed = 1.0 + 6e-4 * np.sin(angle)
        turns = np.cumsum(3150.0 * speed) / RATE_HZ
        float_wav(self.path("slide.wav"), 0.4 * np.sin(2.0 * np.pi * np.mod(turns, 1.0)), RATE_HZ)
        heard = self.check(EVENSPOOL, "--tone", "3150", self.path("slide.wav"))["components"]
        self.assertEqual(len(heard), 1, heard)
        self.near(heard[0]["rate_hz"], 1.2, 0.005, "rate")
        self.near(heard[0]["rate_slope_hz_per_min"], 0.06, 0.006, "slope")
        self.alike(heard[0]["peak_percent"], 0.06, 0.05, "peak")


if __name__ == "__main__":
    unittest.main()
