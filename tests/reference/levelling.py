"""Networks in the style of a levelling net: height differences between benches, some benches tied to the datum.

Here the heights are the log speed errors of decks, the levelled differences are plays, the ties are anchors.
All made up; the errors of the observations are drawn for a fixed seed, so the truth is known too.
"""
import random
import subprocess

import reference

PLAY, ANCHOR = 0, 1

# recorded on, played on, u [%], degrees of freedom (inf: well known)
PLAYS = ((0, 1, 0.010, 9), (1, 2, 0.012, "inf"), (2, 3, 0.010, 4), (3, 0, 0.020, "inf"),
         (1, 4, 0.015, 7), (4, 2, 0.011, "inf"), (4, 5, 0.030, 3), (5, 0, 0.025, "inf"),
         (0, 2, 0.009, 12), (2, 5, 0.018, "inf"), (5, 6, 0.014, 5), (6, 7, 0.016, "inf"),
         (7, 4, 0.013, 8), (6, 3, 0.021, "inf"), (7, 8, 0.012, 6), (8, 9, 0.017, "inf"),
         (9, 6, 0.019, 10), (8, 1, 0.024, "inf"), (9, 0, 0.022, 2), (3, 9, 0.011, "inf"),
         (2, 8, 0.015, 15))
ANCHORS = ((0, 0.04, "inf"), (3, 0.10, 5), (7, 0.06, 20), (9, 0.15, 3))
TRUE_PERCENT = (0.12, 0.35, -0.16, -0.35, 0.70, 1.93, -2.41, 0.02, -0.88, 1.10)
PAIRS = ((0, 1), (2, 7), (9, 5), (3, 8))


def still(seed, blunder=None):
    """Observations (kind, deck, recorded_on, day, recorded_day, value, u, dof) of decks that stand still."""
    chance = random.Random(seed)
    made = []
    for a, b, u, dof in PLAYS:
        heard = (1.0 + TRUE_PERCENT[b] / 100.0) / (1.0 + TRUE_PERCENT[a] / 100.0) - 1.0
        made.append((PLAY, b, a, 0.0, 0.0, heard + chance.gauss(0.0, u / 100.0), u / 100.0, dof))
    for a, u, dof in ANCHORS:
        value = TRUE_PERCENT[a] / 100.0 + chance.gauss(0.0, u / 100.0)
        made.append((ANCHOR, a, 0, 0.0, 0.0, value, u / 100.0, dof))
    if blunder is not None:
        old = made[blunder]
        made[blunder] = (*old[:5], old[5] + 12.0 * old[6], *old[6:])
    return made


def text_of(epochs, observations, pairs):
    lines = [str(len(epochs)), *(f"{walk!r} {day!r}" for walk, day in epochs)]
    lines.append(str(len(observations)))
    lines += [" ".join(str(field) for field in o) for o in observations]
    lines += [str(len(pairs)), *(f"{a} {b}" for a, b in pairs)]
    return "\n".join(lines) + "\n"


def solved(program, epochs, observations, pairs=PAIRS):
    done = subprocess.run([program], input=text_of(epochs, observations, pairs), text=True,
                          capture_output=True, timeout=60, check=False,
                          env=reference.surroundings())
    if done.returncode != 0:
        raise AssertionError((done.returncode, done.stderr))
    return reference.json.loads(done.stdout)
