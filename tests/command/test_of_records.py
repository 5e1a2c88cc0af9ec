#!/usr/bin/env python3
"""Decks and trust from outside: test_of_records.py PROGRAM. A bench with three decks, its figures by hand."""
import hashlib
import json
import math
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import unittest

import captures as cap
import terminal

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, OUTSIDE, USAGE, INPUT, AROUND = range(5)
K95 = 1.959964  # JCGM 100 table G.2: 1.960, for very many degrees of freedom


class Case(unittest.TestCase):
    """Records of its own for each test."""

    def setUp(self):
        place = tempfile.TemporaryDirectory(prefix="evenspool-")
        self.addCleanup(place.cleanup)
        self.folder = place.name
        os.chmod(self.folder, 0o777)
        self.records = os.path.join(self.folder, "evenspool", "records.db")

    def surroundings(self):
        kept = {name: os.environ[name] for name in ("PATH", "ASAN_OPTIONS", "UBSAN_OPTIONS",
                                                    "LSAN_OPTIONS", "TSAN_OPTIONS")
                if name in os.environ}
        return {**kept, "TERM": "xterm", "LC_ALL": "C.UTF-8", "XDG_DATA_HOME": self.folder}

    def path(self, name):
        return os.path.join(self.folder, name)

    def run_it(self, *words, expect=DONE, **more):
        done = subprocess.run([PROGRAM, *words], capture_output=True, text=True, timeout=120,
                              env=self.surroundings(), check=False, cwd=self.folder, **more)
        self.assertEqual(done.returncode, expect, (words, done.stdout, done.stderr))
        return done

    def json_of(self, *words, **more):
        return json.loads(self.run_it(*words, "--json", **more).stdout)

    def sentence(self, done, *parts):
        """One sentence on standard error that says all the parts."""
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertTrue(done.stderr.startswith("evenspool: ") and done.stderr.endswith(".\n"),
                        done.stderr)
        for part in parts:
            self.assertIn(part, done.stderr)

    def everything(self):
        done = self.run_it("export")
        document = json.loads(done.stdout)
        del document["exported_at"]
        return document

    def add_decks(self, *names):
        for name in names:
            self.run_it("deck", "add", name)

    def anchor(self, deck, error, u95, method="tape-length", **more):
        return self.run_it("trust", "anchor", deck, "--error", str(error), "--u95", str(u95),
                           "--method", method, **more)

    def play(self, a, b, heard, u95, *words, **more):
        return self.run_it("trust", "play", "--recorded-on", a, "--played-on", b, "--heard",
                           repr(heard), "--u95", repr(u95), *words, **more)

    def solved(self, *words):
        """Decks as they are now by name, and the whole document."""
        document = self.json_of("trust", "solve", *words)
        self.assertEqual(document["schema"], "evenspool.trust/1")
        return {d["name"]: d for d in document["decks"] if d["latest"]}, document


class Trust(Case):
    def test_three_decks_and_one_measured_length_of_tape(self):
        """Recorded +0.40 %, played -0.65 %: 3150 Hz is heard as 3117.06 Hz, -1.045817 %."""
        self.add_decks("Workshop", "Attic", "Küche")
        self.anchor("Workshop", 0.40, 0.08)
        heard = 100 * ((1 - 0.0065) / (1 + 0.0040) - 1)
        self.assertAlmostEqual(heard, -1.045817, places=6)
        self.play("Workshop", "Attic", heard, 0.02)
        decks, document = self.solved()
        self.assertAlmostEqual(decks["Workshop"]["error_percent"], 0.40, places=8)
        self.assertAlmostEqual(decks["Workshop"]["u95_percent"], 0.08, places=6)
        self.assertAlmostEqual(decks["Attic"]["error_percent"], -0.65, places=8)
        u = 0.9935 * math.hypot(0.08 / 1.0040, 0.02 / (1 + heard / 100))
        self.assertAlmostEqual(decks["Attic"]["u95_percent"], u, places=6)
        self.assertTrue(decks["Attic"]["tied"])
        self.assertFalse(decks["Küche"]["tied"])
        self.assertIsNone(decks["Küche"]["error_percent"])
        self.assertIsNone(decks["Küche"]["u95_percent"])
        self.assertIsNone(document["consistent"])
        self.assertEqual(document["degrees_of_freedom"], 0)
        self.assertEqual(document["next"][0]["deck"], "Küche")
        text = self.run_it("trust", "solve").stdout
        self.assertIn("-0.650 % +-", text)
        self.assertIn("not tied to true speed", text)
        self.assertIn("tied to Workshop by 1 play", text)

    def test_an_anchor_from_its_answers(self):
        """100 m in 2091.2 s at 4.7625 cm/s is +0.408 %; JCGM 100 4.3.7 for the parts."""
        self.add_decks("A")
        ratio = 100 / (2091.2 * 0.047625)
        parts = [(0.3 + 0.2 * 100) / 1000 / 100 / math.sqrt(3), 0.0005 / 100 / math.sqrt(3),
                 1e-4 / math.sqrt(3), 0.0003, 0.0002]
        out = self.json_of("trust", "anchor", "A", "-m", "tape-length", "-a",
                           "length_m=100,time_s=2091.2,timer=clicks")
        self.assertAlmostEqual(out["error_percent"], 100 * (ratio - 1), places=7)
        self.assertAlmostEqual(out["u_percent"], 100 * ratio * math.sqrt(sum(p * p for p in parts)),
                               places=7)
        self.assertEqual([line["what"] for line in out["budget"]],
                         ["rule", "marks", "timing clock", "stretch under tension", "repeat"])
        dry = self.json_of("trust", "anchor", "--dry-run", "-m", "tape-length", "-a",
                           "length_m=100,time_s=2091.2")
        self.assertEqual(dry["error_percent"], out["error_percent"])
        self.assertIsNone(dry["id"])
        self.assertEqual(len(self.everything()["anchors"]), 1)

    def test_the_forms_are_told(self):
        forms = self.json_of("trust", "anchor", "--questions")["forms"]
        self.assertEqual(len(forms), 9)
        for form in forms:
            self.assertEqual(self.json_of("trust", "anchor", "-m", form["method"],
                                          "--questions")["questions"], form["questions"])
            text = self.run_it("trust", "anchor", "-m", form["method"], "--questions").stdout
            for question in form["questions"]:
                self.assertIn(f"\n  {question['key']}\n", text)
            self.assertIn("Speed error: ", text)

    def test_the_same_deck_is_explained(self):
        self.add_decks("A")
        done = self.play("A", "A", 0.03, 0.02)
        self.assertIn("the error cancels", done.stdout.replace("\n", " "))
        out = json.loads(self.play("A", "A", 0.03, 0.02, "--json").stdout)
        self.assertTrue(out["same_deck"])
        decks, document = self.solved()
        self.assertFalse(decks["A"]["tied"])
        self.assertEqual({link["role"] for link in document["links"]}, {"drift-check"})
        self.assertIn("a check for drift", self.run_it("trust", "solve").stdout)

    def test_what_disagrees_is_named(self):
        self.add_decks("A", "B", "C", "D")
        self.anchor("A", 0.0, 0.08)
        for a, b, heard in (("A", "B", 0.0), ("A", "C", 0.0), ("A", "D", 0.0), ("B", "C", 0.3),
                            ("B", "D", 0.0), ("C", "D", 0.0)):
            self.play(a, b, heard, 0.04)
        decks, document = self.solved()
        self.assertFalse(document["consistent"])
        self.assertEqual([(s["kind"], s["id"]) for s in document["suspects_of_blunder"]],
                         [("play", 4)])
        suspect = document["suspects_of_blunder"][0]
        self.assertAlmostEqual(suspect["gross_error_percent"], 0.3, delta=0.001)
        self.assertGreater(suspect["normalised_residual"], document["critical_residual"])
        self.assertGreater(decks["C"]["error_percent"], 0.05)
        decks, document = self.solved("--robust", "remove")
        self.assertTrue(document["consistent"])
        self.assertAlmostEqual(decks["C"]["error_percent"], 0.0, places=8)
        soft, _ = self.solved("--robust", "soften")
        self.assertLess(soft["C"]["error_percent"], 0.05)
        self.assertIn("trust remove play 4", self.run_it("trust", "solve").stdout.replace("\n    ", " "))
        self.run_it("trust", "remove", "play", "4")
        self.assertTrue(self.solved()[1]["consistent"])

    def test_anchors_that_contradict_each_other(self):
        self.add_decks("A")
        self.anchor("A", 0.0, 0.08)
        self.anchor("A", 1.0, 0.2, "test-tape")
        _, document = self.solved()
        self.assertFalse(document["consistent"])
        self.assertEqual(len(document["suspects_of_blunder"]), 2)
        text = " ".join(self.run_it("trust", "solve").stdout.split())
        self.assertIn("Nothing in the records tells which of the 2 named is wrong", text)

    def test_what_next_foretells_comes_true(self):
        self.add_decks("A", "B")
        self.anchor("A", 0.40, 0.05)
        self.anchor("B", -0.65, 0.40, "capstan")
        advice = self.json_of("trust", "next", "B")
        self.assertAlmostEqual(sum(s["share_percent"] for s in advice["shares"]), 100.0, places=6)
        play = next(n for n in advice["next"] if n["kind"] == "play")
        self.assertEqual(play["other_deck"], "A")
        self.play("A", "B", 100 * (0.9935 / 1.0040 - 1), K95 * play["assumed_u_percent"])
        after = self.solved()[0]["B"]["u95_percent"]
        self.assertAlmostEqual(after, play["predicted_u95_percent"],
                               delta=0.01 * play["predicted_u95_percent"])
        self.assertIn("What the uncertainty comes from", self.run_it("trust", "next", "B").stdout)

    def test_the_level_can_be_chosen(self):
        self.add_decks("A")
        self.anchor("A", 0.0, K95)
        self.assertAlmostEqual(self.solved("--level", "99")[0]["A"]["u95_percent"], 2.575829,
                               places=5)  # normal distribution, 99 %

    def test_trust_fades_and_an_adjustment_ends_it(self):
        self.run_it("deck", "add", "A", "--drift", "0.3", "--since", "2019-12-01")
        self.run_it("trust", "anchor", "A", "--error", "0.4", "--u95", "0.08", "-m", "tape-length",
                    "--at", "2020-01-01")
        deck, document = self.solved()
        days = (sqlite3.connect(":memory:")
                .execute("SELECT julianday(?) - julianday('2020-01-01')", (document["day"],))
                .fetchone()[0])
        self.assertAlmostEqual(deck["A"]["u_percent"],
                               math.hypot(0.08 / K95, 1.004 * 0.3 * math.sqrt(days / 365.25)),
                               places=6)  # the walk is of ln(1 + error)
        self.run_it("trust", "tape", "T1", "--recorded-on", "A", "--recorded-at", "2020-01-01")
        self.run_it("deck", "edit", "A", "--adjusted", "2020-02-01", "--why", "trimmer")
        deck, document = self.solved()
        self.assertFalse(deck["A"]["tied"])
        self.assertEqual(deck["A"]["epoch"], 2)
        self.assertAlmostEqual(document["tapes"][0]["error_percent"], 0.40, places=8)
        self.assertAlmostEqual(document["tapes"][0]["u95_percent"], 0.08, places=6)
        self.assertIn("A until 2020-02-01", document["tapes"][0]["path"])


class Tapes(Case):
    def setUp(self):
        super().setUp()
        self.add_decks("Workshop", "Attic")
        self.anchor("Workshop", 0.40, 0.08)
        with open(self.path("attic.wav"), "wb") as out:
            out.write(cap.wav16(cap.tone(12, 3150 * (1 - 0.01045817))))

    def test_a_tape_recorded_fast_is_a_good_tape(self):
        self.run_it("trust", "tape", "T1", "--recorded-on", "Workshop", "--tone", "3150")
        tape = self.json_of("trust", "tape", "T1")
        self.assertEqual(tape["schema"], "evenspool.certificate/1")
        self.assertAlmostEqual(tape["certificate_percent"], 0.40, places=8)
        self.assertIn("recorded on Workshop, which was tied to timed tape length on",
                      tape["certificate_path"])
        result = self.json_of("check", "--tape", "T1", "attic.wav")
        self.assertAlmostEqual(result["speed"]["error_percent"], -0.65, delta=0.001)
        self.assertAlmostEqual(result["speed"]["tape_error_percent"], 0.40, places=8)
        self.assertEqual(result["tone"]["nominal_source"], "tape")
        self.assertEqual(result["tone"]["nominal_hz"], 3150)
        budget = {line["source"]: line["u_percent"] for line in result["speed"]["budget"]}
        self.assertAlmostEqual(budget["tape, as certified"], 0.08 / K95, places=6)
        self.assertAlmostEqual(result["speed"]["u95_percent"], 0.08, delta=0.002)

    def test_a_tone_that_only_the_tape_knows(self):
        with open(self.path("odd.wav"), "wb") as out:
            out.write(cap.wav16(cap.tone(12, 2222 * 1.01)))
        self.run_it("trust", "tape", "odd", "--recorded-on", "Workshop", "--tone", "2222")
        result = self.json_of("check", "--tape", "odd", "odd.wav")
        self.assertEqual(result["tone"]["nominal_hz"], 2222)
        self.assertAlmostEqual(result["speed"]["heard_percent"], 1.0, delta=0.001)
        self.assertEqual(self.json_of("check", "--tape", "odd", "--tone", "2200", "odd.wav")
                         ["tone"]["nominal_source"], "given")

    def test_a_tape_is_not_taken_for_another_by_mistake(self):
        self.run_it("trust", "tape", "T1", "--recorded-on", "Workshop", "--tone", "3150")
        self.run_it("trust", "tape", "T1", "--notes", "side A")  # says nothing of where it came from
        before = self.everything()
        self.sentence(self.run_it("trust", "tape", "T1", "--recorded-on", "Attic", expect=INPUT),
                      "T1", "--force")
        self.sentence(self.run_it("trust", "tape", "T1", "--stated", "0", "--u95", "0.1",
                                  expect=INPUT), "T1", "--force")
        self.assertEqual(self.everything(), before)
        self.run_it("trust", "tape", "T1", "--recorded-on", "Attic", "--force")
        tape = self.json_of("trust", "tape", "T1")
        self.assertFalse(tape["tied"])
        self.assertEqual((tape["notes"], tape["nominal_hz"]), ("side A", 3150))

    def test_a_bought_tape(self):
        self.run_it("trust", "tape", "B1", "--stated", "0.1", "--u95", "0.2")
        result = self.json_of("check", "--tape", "B1", "attic.wav")
        self.assertAlmostEqual(result["speed"]["error_percent"],
                               100 * ((1 - 0.01045817) * 1.001 - 1), delta=0.001)
        done = self.run_it("trust", "play", "--tape", "B1", "--played-on", "Attic", "--heard", "1",
                           "--u95", "0.1", expect=INPUT)
        self.sentence(done, "--method test-tape")

    def test_a_capture_is_measured_and_kept(self):
        out = self.json_of("trust", "play", "--recorded-on", "Workshop", "--played-on", "Attic",
                           "--capture", "attic.wav")
        self.assertAlmostEqual(out["heard_percent"], -1.045817, delta=0.001)
        # a clock that nobody measured: 100 ppm either way, JCGM 100 4.3.7
        self.assertGreater(out["u_percent"], 0.01 / math.sqrt(3) * 0.999)
        self.assertLess(out["u_percent"], 0.01)
        kept = self.everything()
        with open(self.path("attic.wav"), "rb") as capture:
            self.assertEqual(kept["readings"][0]["capture_sha256"],
                             hashlib.sha256(capture.read()).hexdigest())
        self.assertEqual(kept["plays"][0]["reading"], kept["readings"][0]["id"])
        self.assertAlmostEqual(self.solved()[0]["Attic"]["error_percent"], -0.65, delta=0.001)

    def test_a_play_of_a_known_tape(self):
        self.run_it("trust", "tape", "T1", "--recorded-on", "Workshop", "--tone", "3150")
        self.run_it("trust", "play", "--tape", "T1", "--played-on", "Attic", "--capture",
                    "attic.wav")
        _, document = self.solved()
        link = next(k for k in document["links"] if k["kind"] == "play")
        self.assertEqual((link["recorded_on"], link["tape"]), ("Workshop", "T1"))
        done = self.run_it("trust", "play", "--tape", "T1", "--recorded-on", "Attic", "--played-on",
                           "Attic", "--heard", "0", "--u95", "0.1", expect=INPUT)
        self.sentence(done, "T1", "Workshop")

    def test_a_reading_is_kept_as_it_was_given_out(self):
        self.run_it("deck", "edit", "Attic", "--capstan", "2.5")
        self.run_it("trust", "tape", "T1", "--recorded-on", "Workshop")
        given = self.run_it("check", "--json", "--tape", "T1", "--deck", "Attic", "attic.wav").stdout
        reading = self.everything()["readings"][0]
        self.assertEqual(reading["document"] + "\n", given)
        self.assertAlmostEqual(reading["error_percent"], -0.65, delta=0.001)
        done = self.run_it("check", "--deck", "Attic", "attic.wav")
        self.assertTrue(done.stdout.endswith("\nKept as reading 2 of Attic.\n"), done.stdout)
        with open(self.path("attic.wav"), "rb") as capture:
            streamed = subprocess.run([PROGRAM, "check", "--deck", "Attic", "-"], stdin=capture,
                                      env=self.surroundings(), capture_output=True, check=True)
        self.assertIn(b"Kept as reading 3", streamed.stdout)
        self.assertEqual(self.everything()["readings"][2]["capture_sha256"], "")

    def test_the_decks_sizes_name_the_part(self):
        """Capstan: v = pi f (d + h), 4.7625 cm/s and 18 um of tape."""
        self.run_it("rehearse", "bent-capstan", "--seconds", "30", "-o", "bent.wav")
        swing = self.json_of("check", "bent.wav")["components"][0]
        self.assertEqual(swing["suspect"], "capstan or belt")
        around = 47.625 / (math.pi * swing["rate_hz"])
        self.run_it("deck", "edit", "Attic", "--capstan", f"{around - 0.018:.4f}")
        kept = self.json_of("check", "--deck", "Attic", "bent.wav")["components"][0]
        self.assertEqual(kept["suspect"], "capstan")
        other = self.json_of("check", "--deck", "Attic", "--capstan", f"{1.4 * around:.4f}",
                             "bent.wav")["components"][0]
        self.assertNotEqual(other["suspect"], "capstan")  # what is said now counts

    def test_what_does_not_go_together(self):
        self.run_it("trust", "tape", "T1", "--recorded-on", "Attic")
        for words, code, says in (
                (("check", "--tape", "T1", "--tape-error", "0.1", "attic.wav"), USAGE, "--tape-error"),
                (("check", "--tape", "T1", "--tape-u95", "0.1", "attic.wav"), USAGE, "--tape-u95"),
                (("check", "--records", "x.db", "attic.wav"), USAGE, "--records"),
                (("check", "--tape", "T1", "attic.wav"), INPUT, "not tied"),
                (("check", "--tape", "T2", "attic.wav"), INPUT, 'did you mean "T1"'),
                (("check", "--deck", "Atic", "attic.wav"), INPUT, 'did you mean "Attic"'),
                (("trim", "--source", "rehearse:right-on-speed", "--unpaced", "--tape", "T1"), INPUT,
                 "not tied"),
                (("trim", "--source", "rehearse:right-on-speed", "--tape", "T1", "--tape-error",
                  "1"), USAGE, "--tape-error"),
                (("trim", "--source", "rehearse:right-on-speed", "--deck", "Atic"), INPUT, "Attic"),
                (("trust", "tape", "T3", "--stated", "0.1"), USAGE, "--u95"),
                (("trust", "tape", "T3", "--stated", "0.1", "--u95", "0.1", "--recorded-on",
                  "Attic"), USAGE, "--recorded-on"),
                (("trust", "tape", "T3", "--recorded-on", "Atic"), INPUT, "Attic")):
            self.sentence(self.run_it(*words, expect=code), says)


class Decks(Case):
    def test_a_deck_through_its_life(self):
        with open(self.path("photo.jpg"), "wb"):
            pass
        shown = self.json_of("deck", "add", "Großes ♫", "--class", "reel-19", "--capstan", "7.9",
                             "--belt", "310", "--photo", "photo.jpg", "--notes", "two\nlines")
        deck = shown["deck"]
        self.assertEqual(deck["transport"], "reel-19")
        self.assertAlmostEqual(deck["capstan_m"], 0.0079, places=12)
        self.assertAlmostEqual(deck["belt_m"], 0.310, places=12)
        self.assertIsNone(deck["idler_m"])
        self.assertEqual(deck["photo"], os.path.realpath(self.path("photo.jpg")))
        self.run_it("deck", "edit", "Großes ♫", "--rename", "Reel", "--belt", "0", "--adjusted",
                    "now", "--why", "new belt")
        shown = self.json_of("deck", "show", "Reel")
        self.assertIsNone(shown["deck"]["belt_m"])
        self.assertAlmostEqual(shown["deck"]["capstan_m"], 0.0079, places=12)
        self.assertEqual([e["number"] for e in shown["epochs"]], [1, 2])
        self.assertEqual(shown["epochs"][1]["why"], "new belt")
        self.assertIn("new belt", self.run_it("deck", "show", "Reel").stdout)
        self.assertEqual([d["name"] for d in self.json_of("deck", "list")["decks"]], ["Reel"])
        self.assertIn("Reel (reel-19)", self.run_it("deck", "list").stdout)
        self.run_it("deck", "remove", "Reel")
        self.assertEqual(self.json_of("deck", "list")["decks"], [])

    def test_a_history_is_not_thrown_away_by_mistake(self):
        self.add_decks("A", "B")
        self.play("A", "B", 0.1, 0.1)
        self.sentence(self.run_it("deck", "remove", "A", expect=INPUT), "play")
        self.run_it("deck", "remove", "A", "--with-history")
        kept = self.everything()
        self.assertEqual(([d["name"] for d in kept["decks"]], kept["plays"]), (["B"], []))

    def test_an_edit_is_all_or_nothing(self):
        self.add_decks("A")
        before = self.everything()
        self.run_it("deck", "edit", "A", "--rename", "B", "--adjusted", "2026-13-01", expect=USAGE)
        self.run_it("deck", "add", "C", "--since", "never", expect=USAGE)
        self.assertEqual(self.everything(), before)

    def test_what_a_terminal_would_obey_is_not_shown(self):
        self.run_it("deck", "add", "A", "--notes", "one\ntwo \x1b[31mred\x07 \u009b2J")
        self.run_it("deck", "edit", "A", "--adjusted", "now", "--why", "\x1b]0;x\x07")
        shown = self.run_it("deck", "show", "A").stdout
        self.assertIn("one two ?[31mred? ?2J", shown)
        self.assertFalse(set(shown) & set("\x1b\x07\u009b"))

    def test_another_records_file(self):
        self.run_it("deck", "add", "A", "--records", "my/own.db")
        self.assertTrue(os.path.exists(self.path("my/own.db")))
        self.assertFalse(os.path.exists(self.records))
        self.assertEqual(len(self.json_of("deck", "list", "--records", "my/own.db")["decks"]), 1)


class Refused(Case):
    """A sentence, the code, and nothing changed."""

    def test_entries_that_can_not_be(self):
        self.add_decks("Workshop", "Attic")
        before = self.everything()
        play = ("trust", "play", "--recorded-on", "Workshop", "--played-on", "Attic")
        anchor = ("trust", "anchor", "Attic", "-m", "tape-length")
        for words, code, says in (
                ((*play[:3], "Workshpo", *play[4:], "--heard", "0", "--u95", "1"), INPUT,
                 'did you mean "Workshop"'),
                ((*play, "--heard", "0", "--u95", "0"), USAGE, "--u95"),
                ((*play, "--heard", "0", "--u95", "-1"), USAGE, "--u95"),
                ((*play, "--heard", "nan", "--u95", "1"), USAGE, "--heard"),
                ((*play, "--heard", "0"), USAGE, "--u95"),
                ((*play, "--heard", "0", "--u95", "1", "--capture", "x.wav"), USAGE, "--capture"),
                ((*play, "--capture", "nothing.wav"), INPUT, "nothing.wav"),
                ((*play, "--heard", "0", "--u95", "1", "--tape", "T"), INPUT, 'no tape "T"'),
                ((*play, "--heard", "0", "--u95", "1", "--played-at", "2026-02-30"), INPUT, "day"),
                ((*play, "--heard", "0", "--u95", "1", "--played-at", "2999-01-01"), USAGE,
                 "not come yet"),
                ((*play, "--heard", "0", "--u95", "1", "--recorded-at", "2026-02-02", "--played-at",
                  "2026-02-01"), INPUT, "before it is recorded"),
                ((*play, "--heard", "0", "--u95", "1", "--recorded-epoch", "2"), INPUT, "epoch 2"),
                (("trust", "play", "--played-on", "Attic", "--heard", "0", "--u95", "1"), USAGE,
                 "--recorded-on"),
                (anchor, USAGE, "--questions"),
                ((*anchor, "--error", "0.1"), USAGE, "both"),
                ((*anchor, "--error", "0.1", "--u95", "0"), USAGE, "--u95"),
                ((*anchor, "-a", "length_m=100"), INPUT, "time_s"),
                ((*anchor, "-a", "length_m=100,time_s=1"), INPUT, "speed"),
                ((*anchor, "-a", "length=100"), USAGE, "length_m"),
                ((*anchor, "-a", "length_m"), USAGE, "KEY=VALUE"),
                ((*anchor, "-a", "length_m=long"), USAGE, "number"),
                ((*anchor, "-a", "timer=sundial"), USAGE, "answers offered"),
                ((*anchor, "-a", "length_m=100,time_s=2100", "--error", "0", "--u95", "1"), USAGE,
                 "not both"),
                (("trust", "anchor", "Attic", "-m", "guess"), USAGE, "tape-length"),
                (("trust", "anchor", "Attic", "-m", "tape-lenght", "--error", "0", "--u95", "1"),
                 USAGE, "did you mean tape-length?"),
                (("trust", "anchor", "-m", "other", "--error", "0", "--u95", "1"), USAGE, "DECK"),
                (("trust", "next", "Cellar"), INPUT, 'no deck "Cellar"'),
                (("trust", "remove", "play", "7"), INPUT, "play 7"),
                (("trust", "remove", "play", "last"), USAGE, "trust list"),
                (("trust", "remove", "deck", "1"), USAGE, "play"),
                (("deck", "add", "Attic"), INPUT, "Attic"),
                (("deck", "add", "x" * 256), USAGE, "255"),
                (("deck", "add", "a\nb"), INPUT, "one line"),
                (("deck", "add", "B", "--photo", "nothing.jpg"), INPUT, "nothing.jpg"),
                (("deck", "add", "B", "--class", "wire"), USAGE, "cassette"),
                (("deck", "edit", "Attic", "--why", "because"), USAGE, "--adjusted"),
                (("deck", "show", "Celar"), INPUT, "deck list"),
                (("trust", "solve", "--level", "100"), USAGE, "--level")):
            with self.subTest(words=words):
                self.sentence(self.run_it(*words, expect=code), says)
                self.assertEqual(self.everything(), before)

    def test_with_json_the_refusal_is_a_document_too(self):
        self.add_decks("A")
        out = self.json_of("deck", "show", "B", expect=INPUT)
        self.assertEqual((out["schema"], out["code"]), ("evenspool.error/1", "unknown"))

    def test_no_records_yet(self):
        for words in (("deck", "list"), ("trust", "solve"), ("deck", "edit", "A"),
                      ("trust", "list"), ("trust", "tape", "T")):
            self.sentence(self.run_it(*words, expect=AROUND), "no records here yet", "deck add")
        self.assertFalse(os.path.exists(self.records))

    def test_a_file_that_is_something_else(self):
        with open(self.path("notes.txt"), "w", encoding="utf-8") as out:
            out.write("shopping list\n" * 20)
        self.sentence(self.run_it("deck", "add", "A", "--records", "notes.txt", expect=AROUND),
                      "notes.txt")
        with open(self.path("notes.txt"), encoding="utf-8") as kept:
            self.assertEqual(kept.read(), "shopping list\n" * 20)

    def test_records_that_another_program_is_writing(self):
        self.add_decks("A")
        before = self.everything()
        other = sqlite3.connect(self.records, isolation_level=None)
        self.addCleanup(other.close)
        other.execute("BEGIN IMMEDIATE")
        self.sentence(self.run_it("deck", "add", "B", expect=AROUND), "Another program is writing")
        self.assertEqual([d["name"] for d in self.json_of("deck", "list")["decks"]], ["A"])
        other.execute("ROLLBACK")
        self.assertEqual(self.everything(), before)

    def ordinary(self):
        """Root may write anywhere; a person may not."""
        return {"user": 65534, "group": 65534, "extra_groups": []} if os.getuid() == 0 else {}

    def test_records_that_are_write_protected(self):
        self.add_decks("A")
        place = os.path.dirname(self.records)
        os.chmod(self.records, 0o444)
        os.chmod(place, 0o555)
        self.addCleanup(os.chmod, place, 0o755)
        who = self.ordinary()
        self.sentence(self.run_it("deck", "add", "B", expect=AROUND, **who), "write-protected")
        self.sentence(self.run_it("deck", "edit", "A", "--rename", "B", expect=AROUND, **who),
                      "write-protected")
        self.assertEqual([d["name"] for d in self.json_of("deck", "list", **who)["decks"]], ["A"])

    def test_a_disk_that_is_full(self):
        self.add_decks("A")
        before = self.everything()

        def no_room():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))
        done = self.run_it("deck", "add", "B", "--notes", "n" * 3000, expect=AROUND,
                           preexec_fn=no_room)
        self.sentence(done, "nothing was changed")
        self.assertEqual(self.everything(), before)


class AtTheTerminal(Case):
    def terminal(self, *words):
        t = terminal.Terminal([PROGRAM, *words], self.surroundings())
        self.addCleanup(t.close)
        return t

    def shown(self, t, words, seconds=30):
        self.assertTrue(t.run(seconds, lambda: words in " ".join(" ".join(t.text()).split())),
                        "\n".join(t.text()))

    def test_the_questions_are_asked_one_by_one(self):
        self.add_decks("A")
        t = self.terminal("trust", "anchor", "A", "--method", "counter")
        for question, answer in (("deck's counter show", "1800"), ("the watch show", "twelve"),
                                 ("A number from", "1791.5"), ("own reckoning", ""),
                                 ("counter be read", ""), ("press the watch", "0.2")):
            self.shown(t, question)
            t.type(answer.encode() + b"\r")
        self.assertEqual(t.wait(), DONE)
        anchor = self.everything()["anchors"][0]
        self.assertAlmostEqual(anchor["error_percent"], 100 * (1800 / 1791.5 - 1), places=9)

    def test_answers_that_end_early_keep_nothing(self):
        self.add_decks("A")
        t = self.terminal("trust", "anchor", "A", "--method", "counter")
        self.shown(t, "deck's counter show")
        t.type(b"1800\r")
        self.shown(t, "the watch show")
        t.type(b"\x04")
        self.assertEqual(t.wait(), USAGE)
        self.assertEqual(self.everything()["anchors"], [])

    def turn_once(self, t, presses, rest_s):
        """One turn of so many presses, as the coach counts it; then it is left to read, and ended."""
        t.run(1.5)
        for _ in range(presses):
            t.type(b"\x1b[B")
            t.run(0.05)
        self.shown(t, "Turns so far 1")
        t.run(rest_s)
        t.type(b"q")
        self.assertEqual(t.wait(), DONE)

    def test_a_job_with_the_coach(self):
        self.add_decks("Workshop", "Attic")
        self.anchor("Workshop", 0.40, 0.08)
        self.run_it("trust", "tape", "T1", "--recorded-on", "Workshop", "--tone", "3150")
        t = self.terminal("trim", "--source", "rehearse:touchy-trimmer", "--deck", "Attic", "--tape",
                          "T1", "--asked", "runs fast")
        self.shown(t, "fast by")
        self.turn_once(t, presses=5, rest_s=4)
        shown = self.json_of("deck", "show", "Attic")
        self.assertEqual(len(shown["epochs"]), 2)
        job = shown["jobs"][0]
        self.assertEqual(job["asked"], "runs fast")
        self.run_it("deck", "remark", "Attic", "Belt dry, left as it is.", "--job", str(job["id"]))
        self.run_it("deck", "remark", "Attic", "Roller cleaned.")
        remarks = self.json_of("deck", "show", "Attic")["jobs"][0]["remarks"]
        self.assertEqual([remark["text"] for remark in remarks],
                         ["Belt dry, left as it is.", "Roller cleaned."])
        self.assertIn("* Roller cleaned.", self.run_it("deck", "show", "Attic").stdout)
        self.run_it("deck", "remark", "Attic", "x", "--job", "99", expect=INPUT)
        self.run_it("deck", "remark", "Workshop", "x", expect=INPUT)
        self.assertGreaterEqual(len(job["nudges"]), 1)
        by_id = {reading["id"]: reading for reading in shown["readings"]}
        found = by_id[job["as_found"]]
        # 2.6 % fast as heard, the tape's own 0.40 % comes on top
        self.assertAlmostEqual(found["error_percent"], 100 * (1.026 * 1.004 - 1), delta=0.15)
        self.assertEqual(found["epoch"], shown["epochs"][0]["id"])
        if job["as_left"]:
            self.assertEqual(by_id[job["as_left"]]["epoch"], shown["epochs"][1]["id"])
        self.assertIn("as found", self.run_it("deck", "show", "Attic").stdout)

    def test_a_job_with_the_azimuth(self):
        """docs/scenarios.md: the head leans by 9.1 minutes of arc, 50.0 us; its speed is left alone."""
        self.add_decks("Attic")
        self.anchor("Attic", 0.40, 0.08)
        before = self.json_of("deck", "list")["decks"][0]["error_percent"]
        t = self.terminal("trim", "--adjust", "azimuth", "--source", "rehearse:leaning-head",
                          "--deck", "Attic", "--asked", "dull treble")
        self.shown(t, "right late by")
        self.turn_once(t, presses=2, rest_s=5)
        shown = self.json_of("deck", "show", "Attic")
        self.assertEqual(len(shown["epochs"]), 1)
        job = shown["jobs"][0]
        self.assertEqual((job["adjust"], job["asked"]), ("azimuth", "dull treble"))
        found = {reading["id"]: reading for reading in shown["readings"]}[job["as_found"]]
        self.assertAlmostEqual(found["error_us"], 9.1 * 5.4971, delta=1.5)
        self.assertIsNone(found["error_percent"])
        self.assertIsNotNone(job["nudges"][0]["size_us"])
        self.assertIsNone(job["nudges"][0]["size_percent"])
        text = " ".join(self.run_it("deck", "show", "Attic").stdout.split())
        self.assertRegex(text, r"job 1, 20..-..-.., azimuth: dull treble, as found \+(49|5\d)\.\d\d us,")
        self.assertRegex(text, r"azimuth \+(49|5\d)\.\d\d us \+- \d\.\d\d us")
        self.assertEqual(self.json_of("deck", "list")["decks"][0]["error_percent"], before)
        self.run_it("import", "-", "--records", self.path("other.db"),
                    input=self.run_it("export").stdout)
        other = self.json_of("deck", "show", "Attic", "--records", self.path("other.db"))
        self.assertEqual(other["jobs"], shown["jobs"])

    def test_jobs_with_the_levels(self):
        """docs/scenarios.md: the right channel is 2.2 dB softer than the left."""
        self.add_decks("Attic")
        self.run_it("trim", "--adjust", "balance", "--source", "rehearse:uneven-levels", "--unpaced",
                    "--seconds", "6", "--deck", "Attic")
        self.run_it("trim", "--adjust", "level", "--channel", "left", "--reference", "-10", "--source",
                    "rehearse:uneven-levels", "--unpaced", "--seconds", "6", "--deck", "Attic")
        shown = self.json_of("deck", "show", "Attic")
        self.assertEqual([job["adjust"] for job in shown["jobs"]], ["balance", "level"])
        self.assertEqual(len(shown["epochs"]), 1)
        self.assertAlmostEqual(shown["readings"][0]["error_db"], -2.2, delta=0.1)
        self.assertAlmostEqual(shown["readings"][1]["error_db"], -3.4, delta=0.1)
        self.assertEqual({reading["error_percent"] for reading in shown["readings"]}, {None})
        text = self.run_it("deck", "show", "Attic").stdout
        self.assertRegex(text, r"job 1, 20..-..-.., balance, as found -2\.[12]\d\d dB, 0 turns")
        self.assertRegex(text, r"level -3\.[345]\d\d dB \+- 0\.\d\d\d dB")


if __name__ == "__main__":
    unittest.main()
