#!/usr/bin/env python3
"""The levelling net solved by R's lm(): test_of_network_in_r.py SOLVE_NETWORK NETWORK_R."""
import math
import os
import subprocess
import sys
import unittest

import levelling
import reference
from levelling import PLAY
from reference import Case

RSCRIPT = reference.tool("Rscript", "r-base-core")
SOLVE_NETWORK = reference.program()
if len(sys.argv) < 2:
    sys.exit(f"usage: {sys.argv[0]} SOLVE_NETWORK NETWORK_R")
SCRIPT = os.path.abspath(sys.argv.pop(1))
DECKS = len(levelling.TRUE_PERCENT)


class InR(Case):
    def in_r(self, observations):
        """R's answers by their keys."""
        path = self.path("net.txt")
        with open(path, "w", encoding="ascii") as table:
            print("y", "w", *(f"deck{i}" for i in range(DECKS)), file=table)
            for kind, deck, recorded_on, _, _, value, u, _ in observations:
                row = [0] * DECKS
                row[deck] += 1
                if kind == PLAY:
                    row[recorded_on] -= 1
                print(repr(math.log1p(value)), repr(((1.0 + value) / u) ** 2), *row, file=table)
        done = subprocess.run([RSCRIPT, "--vanilla", SCRIPT, path], capture_output=True, text=True,
                              timeout=60, check=False, env=reference.surroundings())
        self.assertEqual(done.returncode, 0, done.stderr)
        lines = (line.split() for line in done.stdout.splitlines())
        return {line[0]: [float(word) for word in line[1:]] for line in lines}

    def test_the_levelling_net(self):
        for seed, blunder in ((1, None), (2, None), (3, 8)):
            observations = levelling.still(seed, blunder)
            ours = levelling.solved(SOLVE_NETWORK, [(0.0, 0.0)] * DECKS, observations, ((0, 1),))
            theirs = self.in_r(observations)
            with self.subTest(seed=seed):
                self.assertEqual(len(theirs["x"]), DECKS)
                for i, got in enumerate(ours["epochs"]):
                    error = math.expm1(theirs["x"][i])
                    self.near(got["value"], error, 1e-12, f"deck {i}")
                    self.alike(got["u"], (1.0 + error) * theirs["u"][i], 1e-9, f"u of deck {i}")
                self.alike(ours["chi_square"], theirs["chi_square"][0], 1e-8, "chi-square")
                self.assertEqual(ours["degrees_of_freedom"], int(theirs["freedom"][0]))
                self.alike(ours["p"], theirs["p"][0], 1e-7, "p")
                self.near(ours["differences"][0]["correlation"], theirs["correlation"][0], 1e-9, "r")
                self.assertEqual(len(ours["observations"]), len(theirs["normalised"]))
                for i, got in enumerate(ours["observations"]):
                    self.near(got["redundancy"], theirs["redundancy"][i], 1e-8, f"redundancy {i}")
                    self.near(got["normalised"], theirs["normalised"][i], 1e-6, f"normalised {i}")


if __name__ == "__main__":
    unittest.main()
