#!/usr/bin/env python3
"""The trust network against least squares by NumPy and distributions by SciPy: test_of_network.py SOLVE_NETWORK.

The reference sees one dense system: rows divided by their standard uncertainty, numpy.linalg.lstsq (singular
values), the covariance from the inverse of A'A; a deck that wanders enters as correlated observations,
whitened by a Cholesky factor, instead of as further unknowns.
"""
import unittest

import levelling
import reference
from levelling import ANCHOR, PAIRS, PLAY

np = reference.library("numpy", "python3-numpy")
stats = reference.library("scipy.stats", "python3-scipy")
SOLVE_NETWORK = reference.program()
DECKS = len(levelling.TRUE_PERCENT)
STILL = [(0.0, 0.0)] * DECKS


def rows(observations, decks):
    a = np.zeros((len(observations), decks))
    for i, (kind, deck, recorded_on, *_rest) in enumerate(observations):
        a[i, deck] += 1.0
        if kind == PLAY:
            a[i, recorded_on] -= 1.0
    value = np.array([o[5] for o in observations])
    u = np.array([o[6] for o in observations]) / (1.0 + value)
    dof = np.array([float(o[7]) for o in observations])
    return a, np.log1p(value), u, dof


def wandering(observations, epochs):
    """Covariance that the walks of the decks bring into the observations, about the asked days."""
    def ends(o):
        yield o[1], o[3], 1.0
        if o[0] == PLAY:
            yield o[2], o[4], -1.0

    cov = np.zeros((len(observations), len(observations)))
    for i, one in enumerate(observations):
        for k, other in enumerate(observations):
            for deck, day, sign in ends(one):
                for deck2, day2, sign2 in ends(other):
                    walk, asked = epochs[deck]
                    after, after2 = day - asked, day2 - asked
                    if deck == deck2 and after * after2 > 0.0:
                        years = min(abs(after), abs(after2)) / 365.25
                        cov[i, k] += sign * sign2 * walk ** 2 * years
    return cov


def reference_of(observations, epochs):
    a, y, u, dof = rows(observations, len(epochs))
    cov = np.diag(u ** 2) + wandering(observations, epochs)
    lower = np.linalg.cholesky(cov)
    white_a, white_y = np.linalg.solve(lower, a), np.linalg.solve(lower, y)
    x, _, rank, _ = np.linalg.lstsq(white_a, white_y, rcond=None)
    assert rank == len(epochs)
    q = np.linalg.inv(white_a.T @ white_a)
    residual = y - a @ x
    return {"x": x, "q": q, "a": a, "u": u, "dof": dof, "cov": cov, "residual": residual,
            "chi_square": float(np.sum((white_y - white_a @ x) ** 2)),
            "gain": q @ a.T @ np.linalg.inv(cov)}  # x = gain y


def welch(parts, dof):
    """Welch-Satterthwaite, JCGM 100 G.4; inf when all parts are well known."""
    below = sum(part ** 4 / nu for part, nu in zip(parts, dof) if np.isfinite(nu))
    return np.sum(parts ** 2) ** 2 / below if below else np.inf


class Network(unittest.TestCase):
    def alike(self, actual, expected, share, what, least=0.0):
        self.assertIsNotNone(actual, what)
        if not abs(actual - expected) <= share * abs(expected) + least:
            self.fail(f"{what}: {actual!r}, expected {expected!r}")

    def estimates(self, got, value, u, dof, what):
        self.alike(got["value"], value, 1e-9, what, 1e-14)
        self.alike(got["u"], u, 1e-8, what)
        if np.isfinite(dof):
            self.alike(got["dof"], dof, 1e-7, what)
        k = stats.t.ppf(0.975, max(1.0, np.floor(dof + 1e-9))) if np.isfinite(dof) else 1.959963984540054
        self.alike(got["k"], k, 1e-9, what)
        self.alike(got["u95"], k * u, 1e-8, what)

    def compare(self, observations, epochs, walks=False):
        ours = levelling.solved(SOLVE_NETWORK, epochs, observations)
        r = reference_of(observations, epochs)
        error = np.expm1(r["x"])
        for i, got in enumerate(ours["epochs"]):
            u_x = np.sqrt(r["q"][i, i])
            parts = r["gain"][i] * r["u"]
            if walks:  # what the walks bring has no end of degrees of freedom
                rest = max(0.0, r["q"][i, i] - np.sum(parts ** 2))
                dof = welch(np.append(parts, np.sqrt(rest)), np.append(r["dof"], np.inf))
            else:
                dof = welch(parts, r["dof"])
            self.estimates(got, error[i], (1.0 + error[i]) * u_x, dof, f"deck {i}")
            for k, share in enumerate(ours["shares"][i]):
                self.alike(share, parts[k] ** 2 / r["q"][i, i], 1e-7, f"share {i} {k}", 1e-12)
        self.alike(ours["chi_square"], r["chi_square"], 1e-8, "chi-square")
        freedom = len(observations) - len(epochs)
        self.assertEqual(ours["degrees_of_freedom"], freedom)
        self.alike(ours["p"], stats.chi2.sf(r["chi_square"], freedom), 1e-7, "p")
        return ours, r

    def residuals(self, ours, r):
        left = r["cov"] - r["a"] @ r["q"] @ r["a"].T  # covariance of the residuals
        for i, got in enumerate(ours["observations"]):
            self.alike(got["residual"], r["residual"][i], 1e-7, f"residual {i}", 1e-13)
            self.alike(got["normalised"], r["residual"][i] / np.sqrt(left[i, i]), 1e-7,
                       f"normalised {i}", 1e-8)
            redundancy = left[i, i] / r["cov"][i, i]
            self.alike(got["redundancy"], redundancy, 1e-7, f"redundancy {i}", 1e-10)
            self.alike(got["gross_error"], r["residual"][i] / redundancy, 1e-6, f"gross error {i}",
                       1e-12)

    def test_the_levelling_net(self):
        for seed in range(5):
            with self.subTest(seed=seed):
                observations = levelling.still(seed)
                ours, r = self.compare(observations, STILL)
                self.residuals(ours, r)
                self.assertEqual(ours["consistent"],
                                 int(stats.chi2.sf(r["chi_square"], 15) >= 0.05))

    def test_differences_and_correlations(self):
        observations = levelling.still(11)
        ours, r = self.compare(observations, STILL)
        for (a, b), got in zip(PAIRS, ours["differences"]):
            row = np.zeros(DECKS)
            row[b], row[a] = 1.0, -1.0
            value = np.expm1(row @ r["x"])
            u = (1.0 + value) * np.sqrt(row @ r["q"] @ row)
            dof = welch((row @ r["gain"]) * r["u"], r["dof"])
            self.estimates(got["difference"], value, u, dof, f"difference {a} {b}")
            correlation = r["q"][a, b] / np.sqrt(r["q"][a, a] * r["q"][b, b])
            self.alike(got["correlation"], correlation, 1e-8, f"correlation {a} {b}", 1e-12)

    def test_a_blunder_stands_out(self):
        for blunder in (2, 8, 14, 20):
            with self.subTest(blunder=blunder):
                observations = levelling.still(21, blunder)
                ours, r = self.compare(observations, STILL)
                self.residuals(ours, r)
                self.assertEqual(ours["consistent"], 0)
                self.assertEqual(ours["worst"], blunder)
                # each of m may pass with 1 - 0.95^(1/m) (Sidak 1967, from memory)
                chance = 1.0 - 0.95 ** (1.0 / len(observations))
                self.alike(ours["critical"], stats.norm.isf(chance / 2.0), 1e-6, "critical")

    def test_decks_that_wander(self):
        """Days spread over two years, three decks that drift as random walks, some asked for in between."""
        spread = levelling.random.Random(5)
        epochs = [(0.002, 300.0) if i in (1, 6) else (0.0005, 0.0) if i == 4 else (0.0, 0.0)
                  for i in range(DECKS)]
        observations = []
        for o in levelling.still(31):
            day = float(spread.randrange(1, 730))
            made = float(spread.randrange(1, int(day) + 1)) if o[0] == PLAY else 0.0
            observations.append((*o[:3], day, made, *o[5:]))
        self.assertTrue(any(o[0] == ANCHOR for o in observations))
        self.compare(observations, epochs, walks=True)

    def test_the_truth_lies_inside(self):
        """Of 10 decks in 20 nets 95 % inside u95: 183 to 197 of 200 is within three standard deviations if
        they were independent; those of one net are not, so the door is wider."""
        inside = 0
        for seed in range(100, 120):
            ours = levelling.solved(SOLVE_NETWORK, STILL, levelling.still(seed))
            for got, truth in zip(ours["epochs"], levelling.TRUE_PERCENT):
                inside += abs(got["value"] - truth / 100.0) <= got["u95"]
        self.assertTrue(174 <= inside <= 200, inside)


if __name__ == "__main__":
    unittest.main()
