#!/usr/bin/env python3
"""A levelling net entered by the verbs, against least squares by NumPy: test_of_trust_verbs.py EVENSPOOL.

The net is levelling.py's. Its plays and anchors are entered one by one; what `trust solve --json` says is compared
with numpy.linalg.lstsq on the rows divided by their standard uncertainties.
"""
import json
import os
import subprocess
import unittest

import levelling
import reference
from levelling import PLAY

np = reference.library("numpy", "python3-numpy")
EVENSPOOL = reference.program()
K95 = 1.959963984540054  # normal distribution, 95 %
NAMES = [f"deck {i}" for i in range(len(levelling.TRUE_PERCENT))]


class Verbs(reference.Case):
    def run_it(self, *words):
        done = subprocess.run([EVENSPOOL, *words, "--records", self.records], text=True,
                              capture_output=True, timeout=60, check=False,
                              env=reference.surroundings())
        self.assertEqual(done.returncode, 0, (words, done.stderr))
        return done.stdout

    def enter(self, name, observations):
        self.records = self.path(name)
        if os.path.exists(self.records):
            os.remove(self.records)
        for deck in NAMES:
            self.run_it("deck", "add", deck)
        for kind, deck, recorded_on, *_days, value, u, _dof in observations:
            figures = ("--u95", repr(100.0 * K95 * u))
            if kind == PLAY:
                self.run_it("trust", "play", "--recorded-on", NAMES[recorded_on], "--played-on",
                            NAMES[deck], "--heard", repr(100.0 * value), *figures)
            else:
                self.run_it("trust", "anchor", NAMES[deck], "--method", "other", "--error",
                            repr(100.0 * value), *figures)
        return json.loads(self.run_it("trust", "solve", "--json"))

    def reference_of(self, observations):
        a = np.zeros((len(observations), len(NAMES)))
        for row, (kind, deck, recorded_on, *_rest) in enumerate(observations):
            a[row, deck] += 1.0
            if kind == PLAY:
                a[row, recorded_on] -= 1.0
        value = np.array([o[5] for o in observations])
        u = np.array([o[6] for o in observations]) / (1.0 + value)
        white = a / u[:, None]
        x = np.linalg.lstsq(white, np.log1p(value) / u, rcond=None)[0]
        residual = np.log1p(value) - a @ x
        q = np.linalg.inv(white.T @ white)
        spread = np.sqrt(u ** 2 - np.sum((a @ q) * a, axis=1))
        return x, q, float(np.sum((residual / u) ** 2)), residual / spread

    def alike(self, actual, expected, share, what):
        self.assertLessEqual(abs(actual - expected), share * max(abs(expected), 1e-3), what)

    def compare(self, document, observations):
        x, q, chi_square, normalised = self.reference_of(observations)
        for i, deck in enumerate(document["decks"]):
            error, u = np.expm1(x[i]), (1.0 + np.expm1(x[i])) * np.sqrt(q[i, i])
            self.assertEqual(deck["name"], NAMES[i])
            self.alike(deck["error_percent"], 100.0 * error, 1e-7, deck["name"])
            self.alike(deck["u_percent"], 100.0 * u, 1e-7, deck["name"])
            self.alike(deck["u95_percent"], 100.0 * K95 * u, 1e-7, deck["name"])
        self.alike(document["chi_square"], chi_square, 1e-6, "chi-square")
        self.assertEqual(document["degrees_of_freedom"], len(observations) - len(NAMES))
        for link, expected in zip(document["links"], normalised):
            self.alike(link["normalised_residual"], expected, 1e-5, link["id"])
        return normalised

    def test_a_sound_net(self):
        observations = levelling.still(11)
        document = self.enter("sound.db", observations)
        self.compare(document, observations)
        self.assertTrue(document["consistent"])
        self.assertEqual(document["suspects_of_blunder"], [])

    def test_a_net_with_a_blunder(self):
        observations = levelling.still(11, blunder=8)
        document = self.enter("blunder.db", observations)
        normalised = self.compare(document, observations)
        self.assertFalse(document["consistent"])
        self.assertEqual(int(np.argmax(np.abs(normalised))), 8)
        self.assertEqual([(s["kind"], s["id"]) for s in document["suspects_of_blunder"]],
                         [("play", 9)])


if __name__ == "__main__":
    unittest.main()
