#!/usr/bin/env python3
"""A deck with three heads, as two programs at once on a sound card that is not there (audio.sh):
test_tape_listen.py PROGRAM

`tape write --to` plays a side into the cable, `tape read --source` reads what comes out of it while it plays.
The cable passes samples unchanged, so what is read is the programme's plan.
"""
import json
import os
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM = os.path.abspath(sys.argv.pop(1))
AROUND = 4
AUDIO = os.path.join(os.path.dirname(os.path.abspath(__file__)), "audio.sh")

SHORT = {"schema": "evenspool.programme/1", "name": "short", "about": "", "transport": "cassette",
         "equalisation": "120", "reference_nwb_m": 250, "marker_db": -10, "broad_low_hz": 200,
         "broad_high_hz": 16000, "side_most_s": 1800,
         "sides": [{"sections": [
             {"kind": "leader", "name": "leader", "seconds": 1},
             {"kind": "level", "name": "level", "hz": 400, "level_db": 0, "seconds": 2},
             {"kind": "right-only", "name": "right-only",
              "steps": [{"hz": 1000, "level_db": -10, "seconds": 1.5}]},
             {"kind": "end", "name": "end"}]}]}


def shell(command, env=None):
    done = subprocess.run(["sh", "-c", f'. "{AUDIO}"; {command}'], env=env, check=False,
                          stdout=subprocess.PIPE, timeout=60)
    if done.returncode:
        raise RuntimeError(f"{command}: {done.returncode}")
    return done.stdout


class Device(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        server = os.path.join(self.folder, "audio")
        shown = shell(f'audio_start "{server}" >&2 && env -0')
        self.env = dict(item.split("=", 1) for item in shown.decode().split("\0") if "=" in item)
        self.addCleanup(lambda: shell(f'audio_stop "{server}"', self.env))
        with open(self.path("short.json"), "w", encoding="utf-8") as file:
            json.dump(SHORT, file)

    def path(self, name):
        return os.path.join(self.folder, name)

    def begin(self, *words):
        process = subprocess.Popen(
            [PROGRAM, "tape", *words, "--programme", self.path("short.json")], env=self.env,
            text=True, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.stderr.close)
        self.addCleanup(lambda: process.poll() is None and (process.kill(), process.wait()))
        return process

    def both(self):
        """What the reader gives and says; None when the player could not keep up on a busy machine."""
        read = self.begin("read", "--source", "device:cable_in", "--recorded-here", "--json",
                          "--force", "--record", self.path("kept.flac"))
        self.assertIn("Listening to", read.stderr.readline())
        time.sleep(1.0)
        write = self.begin("write", "--to", "device:cable_out", "--ready")
        told = write.communicate(timeout=90)[1]
        if write.returncode == AROUND and "broke off" in told:
            return None
        self.assertEqual(write.returncode, 0, told)
        out, said = read.communicate(timeout=30)
        self.assertEqual(read.returncode, 0, said)
        return out, said

    def test_writes_and_reads_at_once(self):
        out, said = self.both() or self.both() or self.both()
        document = json.loads(out)
        found = {section["name"]: section for section in document["sections"]}
        for name in ("level", "right-only", "end"):
            self.assertTrue(found[name]["found"], (name, said))
        # from body to body: 2 s + 0.4 s + 2.208 s of marker + 0.4 s
        self.assertAlmostEqual(found["right-only"]["start_s"] - found["level"]["start_s"], 5.008,
                               delta=0.05)
        for channel in document["channels"]:
            self.assertAlmostEqual(channel["level_db"], -12.0, delta=0.05)
        self.assertAlmostEqual(document["balance_db"], 0.0, delta=0.02)
        self.assertTrue(document["recorded_here"])
        self.assertNotIn("input-lost", [w["code"] for w in document["warnings"]], said)
        self.assertIn("level -12.0", said)
        self.assertIn("The side is over.", said)
        self.assertGreater(os.path.getsize(self.path("kept.flac")), 50000)


if __name__ == "__main__":
    try:
        shell("audio_have")
    except RuntimeError:
        print("The sound server is not installed; the Debian packages are pulseaudio and "
              "pulseaudio-utils.")
        sys.exit(77)
    unittest.main()
