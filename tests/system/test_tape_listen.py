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
import time
import unittest

from sound_card import PATIENCE_S, SHORT, OnSoundCard, shell, some_tries

PROGRAM = os.path.abspath(sys.argv.pop(1))


class Device(OnSoundCard):
    def setUp(self):
        super().setUp()
        with open(self.path("short.json"), "w", encoding="utf-8") as file:
            json.dump(SHORT, file)

    def begin(self, *words):
        return self.start([PROGRAM, "tape", *words, "--programme", self.path("short.json")],
                          stdin=subprocess.DEVNULL)

    def both(self):
        """What the reader gives and says."""
        read = self.begin("read", "--source", "device:cable_in", "--recorded-here", "--json",
                          "--force", "--record", self.path("kept.flac"))
        self.assertIn("Listening to", read.stderr.readline())
        time.sleep(1.0)
        write = self.begin("write", "--to", "device:cable_out", "--ready")
        told = write.communicate(timeout=PATIENCE_S)[1]
        self.assertEqual(write.returncode, 0, told)
        out, said = read.communicate(timeout=PATIENCE_S)
        self.assertEqual(read.returncode, 0, said)
        return out, said

    @some_tries
    def test_writes_and_reads_at_once(self):
        out, said = self.both()
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
