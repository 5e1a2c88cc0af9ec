#!/usr/bin/env python3
"""`tape read` from outside: test_of_tape_read.py PROGRAM. The captures are what `tape write` makes, which is
looked at with SciPy in tests/reference; here, what is measured, refused and said end to end."""
import json
import math
import os
import re
import struct
import unittest

from tape_case import AROUND, DONE, INPUT, OUTSIDE, USAGE, SideCase, small

SOURCE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")

TONES = [315, 125, 1000, 4000, 8000, 10000]
SMALL = small([
    {"kind": "leader", "name": "leader", "seconds": 1},
    {"kind": "speed", "name": "speed", "hz": 3150, "level_db": -6, "seconds": 12},
    {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 3},
    {"kind": "azimuth-broadband", "name": "azimuth", "level_db": -20, "seconds": 4},
    {"kind": "response", "name": "response",
     "steps": [{"hz": hz, "level_db": -20, "seconds": 2} for hz in TONES]},
    {"kind": "left-only", "name": "left",
     "steps": [{"hz": 1000, "level_db": -10, "seconds": 2}]},
    {"kind": "silence", "name": "silence", "seconds": 4},
    {"kind": "end", "name": "end"}], {"as": 1})


def wav_header(frames, rate=32000, channels=2, bits=16):
    block = channels * bits // 8
    return (b"RIFF" + struct.pack("<I", 36 + frames * block) + b"WAVEfmt "
            + struct.pack("<IHHIIHH", 16, 1, channels, rate, rate * block, block, bits)
            + b"data" + struct.pack("<I", frames * block))


class Case(SideCase):
    PROGRAMME = SMALL

    def read(self, *words, expect=DONE, **more):
        if "--programme" not in words and "--help" not in words:
            words = ("--programme", "small.json", *words)
        done = self.call("tape", "read", *words, **more)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        return done.stdout.decode(), done.stderr.decode()

    def document(self, *words, **more):
        out, _ = self.read("--json", *words, **more)
        return json.loads(out)

    def near(self, actual, expected, tolerance):
        self.assertIsNotNone(actual)
        self.assertLessEqual(abs(actual - expected), tolerance)


class Documents(Case):
    def test_keys_that_others_rely_on(self):
        document = self.document("side.wav")
        self.assertEqual(document["schema"], "evenspool.tape/1")
        self.assertEqual((document["programme"], document["side"]), ("small", "a"))
        self.assertEqual(list(document["sections"][1])[:4], ["name", "start_s", "end_s", "found"])
        self.assertLessEqual({"delay_us", "u95_us", "angle_arcmin", "phase_10k_deg"},
                             set(document["azimuth"]))
        self.assertIn("error_percent", document["speed"])
        self.assertIn("weighted_quasi_peak_percent", document["wow_flutter"])
        left, right = document["channels"]
        self.assertEqual((left["name"], right["name"]), ("left", "right"))
        self.assertLessEqual({"name", "level_db", "response", "noise_db", "third_harmonic",
                              "separation"}, set(left))
        self.assertLessEqual({"unweighted", "a", "itu468"}, set(left["noise_db"]))
        self.assertEqual([point["hz"] for point in right["response"]], TONES)
        for verdict in document["verdicts"]:
            self.assertIn(verdict["verdict"], ("leave", "adjust", "look-first"))
            self.assertTrue(verdict["text"].endswith("."), verdict)
        self.assertIsNone(document["again"]["delay_us"])

    def test_figures_of_what_was_written(self):
        document = self.document("--tape-error", "0.4", "--level", "-12", "side.wav")
        self.near(document["speed"]["error_percent"], 0.4, 0.002)
        self.near(document["azimuth"]["delay_us"], 0.0, 0.05)
        for channel in document["channels"]:
            self.near(channel["level_db"], -12.0, 0.01)
            self.near(channel["level_error_db"], 0.0, 0.01)
            for point in channel["response"]:
                self.near(point["db"], 0.0, 0.02)
        self.assertTrue(all(s["found"] for s in document["sections"] if s["kind"] != "leader"))

    def test_standard_input_and_raw_samples(self):
        with open(self.path("side.wav"), "rb") as capture:
            piped = self.document("-", stdin=capture)
        plain = self.document("side.wav")
        piped["file"] = plain["file"]
        self.assertEqual(piped, plain)
        with open(self.path("side.wav"), "rb") as capture, \
                open(self.path("side.raw"), "wb") as samples:
            whole = capture.read()
            samples.write(whole[whole.index(b"data") + 8:])
        raw = self.document("--raw", "s24le,32000,2", "side.raw")
        self.near(raw["channels"][1]["level_db"], -12.0, 0.01)

    def test_one_document_a_line(self):
        out, _ = self.read("--json", "side.wav", "side.wav")
        first, second = (json.loads(line) for line in out.splitlines())
        self.assertEqual(first, second)


class Notes(Case):
    def test_verdicts_come_first_and_lines_are_short(self):
        out, _ = self.read("side.wav")
        lines = out.splitlines()
        self.assertTrue(all(len(line) <= 80 for line in lines), max(lines, key=len))
        self.assertTrue(out.isascii())
        order = [out.index(word) for word in ("What to do", "\nSpeed", "\nAzimuth", "\nLevel",
                                              "\nResponse", "\nSections")]
        self.assertEqual(order, sorted(order))
        for what in ("speed", "azimuth", "balance", "response", "polarity"):
            self.assertRegex(out, rf"(?m)^  {what} +(leave|ADJUST|look first) ")
        self.assertNotRegex(out, r"(?m)^  level +(leave|ADJUST|look first) ")  # by what, is not told
        self.assertIn("level is not judged", " ".join(out.split()))
        self.assertNotIn("nan", out)
        self.assertNotIn("-0.00", out)

    def test_cautions_stand_where_something_is_to_be_turned(self):
        calm, _ = self.read("side.wav")
        self.assertNotIn("Before you open the deck", calm)
        out, _ = self.read("--tape-error", "1", "side.wav")
        self.assertIn("Before you open the deck", out)
        self.assertIn("licensed", out)

    def test_biases_are_compared(self):
        out, _ = self.read("--recorded-here", "--bias", "low,high", "side.wav", "side.wav")
        self.assertIn("Bias: treble", out)
        self.assertRegex(out, r"Nearest to flat: (low|high)\.")
        document = self.document("--recorded-here", "--bias", "low", "side.wav")
        self.assertEqual(document["bias"], "low")
        self.assertIn("bias", [v["what"] for v in document["verdicts"]])


class Comparisons(Case):
    def test_the_tapes_share_is_taken_off(self):
        with open(self.path("flat.json"), "w", encoding="utf-8") as out:
            out.write(self.read("--json", "side.wav")[0])
        document = self.document("--recorded-response", "flat.json", "side.wav")
        self.assertTrue(document["tape_share"]["known"])
        self.near(document["channels"][0]["response"][5]["db"], 0.0, 1e-6)

    def test_what_is_no_reading_is_refused(self):
        for content, says in (("{", "Line 1"), ("[]", "no document of tape read"),
                              ('{"schema": "evenspool.check/1"}', "no document of tape read"),
                              ('{"schema": "evenspool.tape/1"}', "nothing of any channel"),
                              ('{"schema": "evenspool.tape/1", "channels": [{}]}', "no response")):
            with open(self.path("bad.json"), "w", encoding="utf-8") as out:
                out.write(content)
            _, err = self.read("--recorded-response", "bad.json", "side.wav", expect=INPUT)
            self.assertIn(says, err)

    def test_limits_of_ones_own(self):
        with open(self.path("tight"), "w", encoding="utf-8") as out:
            out.write("name tight\nnoise 100\n")
        document = self.document("--limits", "tight", "side.wav")
        self.assertEqual(document["limits"], "tight")
        with open(self.path("tight"), "w", encoding="utf-8") as out:
            out.write("name tight\n\n  nois 100\n")
        _, err = self.read("--limits", "tight", "side.wav", expect=INPUT)
        self.assertIn("Line 3, column 3: expected a limit", err)
        _, err = self.read("--limits", "nowhere", "side.wav", expect=INPUT)
        self.assertIn("built in are cassette and reel", err)

    def test_the_records_know_the_tape(self):
        self.call("deck", "add", "Old one", "--records", "r.db")
        self.call("trust", "tape", "B1", "--stated", "0.25", "--u95", "0.1", "--records", "r.db")
        document = self.document("--tape", "B1", "--records", "r.db", "side.wav")
        self.near(document["speed"]["tape_error_percent"], 0.25, 1e-9)
        self.near(document["speed"]["error_percent"], 0.25, 0.002)
        _, err = self.read("--tape", "B2", "--records", "r.db", "side.wav", expect=INPUT)
        self.assertIn("B1", err)

    def test_readings_are_kept_with_the_deck(self):
        self.call("deck", "add", "New one", "--records", "k.db")
        out, _ = self.read("--deck", "New one", "--records", "k.db", "side.wav")
        self.assertIn("Kept as reading 1 of New one.", out)
        self.document("--deck", "New one", "--records", "k.db", "side.wav")
        kept = json.loads(self.call("export", "--records", "k.db", "-o", "-").stdout)["readings"]
        self.assertEqual([r["schema"] for r in kept], ["evenspool.tape/1"] * 2)
        self.near(kept[0]["error_percent"], 0.0, 0.002)
        self.assertEqual(len(kept[0]["capture_sha256"]), 64)
        document = kept[0]["document"]
        document = json.loads(document) if isinstance(document, str) else document
        self.assertEqual(document["programme"], "small")
        self.read("--deck", "No one", "--records", "k.db", "side.wav", expect=INPUT)

    def test_verdicts_may_be_expected(self):
        self.read("--expect", "speed,azimuth,balance", "side.wav")
        out, err = self.read("--tape-error", "1", "--expect", "azimuth,speed", "side.wav",
                             expect=OUTSIDE)
        self.assertIn("What to do", out)
        self.assertRegex(err, "side.wav: speed: The deck runs 1.00 % fast")
        self.assertNotIn("azimuth", err)
        _, err = self.read("--expect", "distortion", "side.wav", expect=OUTSIDE)
        self.assertIn("distortion: Not known", err)
        self.read("--expect", "all", "side.wav")
        self.read("--tape-error", "1", "--expect", "all", "side.wav", expect=OUTSIDE)
        _, err = self.read("--expect", "speed,tone", "side.wav", expect=USAGE)
        self.assertIn('"tone"', err)


class Refusals(Case):
    def test_command_lines_that_do_not_fit(self):
        for words, says in (((), "CAPTURE"), (("--bias", "low", "side.wav"), "--recorded-here"),
                            (("--recorded-here", "--bias", "a,b", "side.wav"), "as many notes"),
                            (("--recorded-here", "--bias", "a,,b", "side.wav"), "commas"),
                            (("--tape", "x", "--tape-error", "1", "side.wav"), "leave out"),
                            (("--records", "x", "side.wav"), "--tape and --deck"),
                            (("--recorded-here", "--recorded-response", "x", "side.wav"),
                             "contradict"), (("-", "-"), "once")):
            with self.subTest(words=words):
                _, err = self.read(*words, expect=USAGE)
                self.assertIn(says, err)

    def test_captures_that_hold_no_test_tape(self):
        frames = 32000 * 20
        hum = b"".join(struct.pack("<hh", *[round(9000 * math.sin(0.0098 * i))] * 2)
                       for i in range(frames))
        for name, body, code in (("silent.wav", bytes(4 * frames), "silence"),
                                 ("hum.wav", hum, "no-markers")):
            with open(self.path(name), "wb") as out:
                out.write(wav_header(frames) + body)
            out, err = self.read("--json", name, expect=INPUT)
            document = json.loads(out)
            self.assertEqual((document["schema"], document["code"]), ("evenspool.error/1", code))
            self.assertIn(document["text"], err)

    def test_a_programme_that_is_not_known(self):
        out, err = self.read("--programme", "cassette", "side.wav", expect=INPUT)
        self.assertEqual(out, "")
        self.assertIn("--programme", err)

    def test_one_bad_capture_spoils_no_other(self):
        out, err = self.read("--json", "missing.wav", "side.wav", expect=INPUT)
        first, second = (json.loads(line) for line in out.splitlines())
        self.assertEqual((first["code"], second["schema"]), ("missing", "evenspool.tape/1"))
        self.assertIn("missing.wav", err)


class Words(Case):
    def test_help_names_every_option(self):
        out, _ = self.read("--help")
        for name in ("--tape", "--programme", "--limits", "--level", "--recorded-response",
                     "--recorded-here", "--bias", "--deck", "--expect", "--json"):
            self.assertIn(name, out)

    def test_the_guide_shows_every_limit_and_code(self):
        with open(os.path.join(SOURCE, "docs", "guide", "tape-read.md"), encoding="utf-8") as guide:
            text = guide.read()
        with open(os.path.join(SOURCE, "src", "task", "tape_limits.c"), encoding="utf-8") as code:
            for name in re.findall(r'^ +(?:\[ES_LIMIT_\w+\] = ?)?\{"([a-z-]+)", "', code.read(), re.M):
                self.assertIn(f"`{name}`", text)


if __name__ == "__main__":
    unittest.main()
