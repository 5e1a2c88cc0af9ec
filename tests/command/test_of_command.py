#!/usr/bin/env python3
"""The command from outside: test_of_command.py PROGRAM. What it is fed is made by captures.py."""
import csv
import json
import math
import os
import pty
import resource
import subprocess
import sys
import tempfile
import time
import unittest

import captures as cap

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, OUTSIDE, USAGE, INPUT, AROUND = range(5)


class Case(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        cls.good = cls.file("good.wav", cap.wav16(cap.tone(12, 3150 * 0.985), channels=2))

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    @classmethod
    def path(cls, name):
        return os.path.join(cls.folder.name, name)

    @classmethod
    def file(cls, name, content):
        with open(cls.path(name), "wb") as out:
            out.write(content)
        return cls.path(name)

    def run_it(self, *words, expect=DONE, given=b"", env=None, **more):
        """The finished process; its code must be the expected one."""
        surroundings = {"PATH": os.environ["PATH"], "TERM": "xterm", **(env or {})}
        for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS", "TSAN_OPTIONS", "LSAN_OPTIONS"):
            if name in os.environ:
                surroundings[name] = os.environ[name]
        if "stdin" not in more:
            more["input"] = given
        done = subprocess.run([PROGRAM, *words], capture_output="stdout" not in more,
                              timeout=120, env=surroundings, check=False, **more)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        return done

    def sentence(self, done, *parts):
        """One line on standard error, a sentence that says all the parts."""
        text = done.stderr.decode()
        self.assertEqual(text.count("\n"), 1, text)
        self.assertTrue(text.startswith("evenspool: ") and text.endswith(".\n"), text)
        for part in parts:
            self.assertIn(part, text)

    def refused(self, name, content, code):
        """A capture that can't be used: the file is named, the document says why."""
        path = self.file(name, content) if content is not None else self.path(name)
        done = self.run_it("check", "--json", path, expect=INPUT)
        self.sentence(done, name)
        document = json.loads(done.stdout)
        self.assertEqual(list(document), ["schema", "file", "code", "text"])
        self.assertEqual(document["schema"], "evenspool.error/1")
        self.assertEqual(document["file"], path)
        self.assertIn(document["code"], code.split("|"))
        plain = self.run_it("check", path, expect=INPUT)
        self.assertEqual(plain.stdout, b"")

    def measured(self, *words, **more):
        return json.loads(self.run_it("check", "--json", *words, **more).stdout)


class BadInput(Case):
    """Each line of the list of bad input: one sentence, the right code, no made-up figure."""

    def test_silence(self):
        self.refused("silence.wav", cap.wav16(cap.silence(8)), "silence")

    def test_music(self):
        self.refused("music.wav", cap.wav16(cap.music(12)), "no-tone|two-tones")

    def test_two_equal_tones(self):
        both = [a + b for a, b in zip(cap.tone(8, 3000), cap.tone(8, 3170))]
        self.refused("two.wav", cap.wav16(both), "two-tones")

    def test_one_second(self):
        self.refused("short.wav", cap.wav16(cap.tone(1)), "too-short")

    def test_no_frames(self):
        self.refused("empty.wav", cap.wav16([]), "empty")

    def test_no_bytes(self):
        self.refused("nothing.wav", b"", "empty")

    def test_truncated_header(self):
        self.refused("head.wav", cap.wav16(cap.tone(1))[:30], "bad-header")

    def test_not_audio(self):
        self.refused("letter.wav", b"Dear customer, your deck is ready.\n" * 40, "not-audio")
        self.refused("random.bin", bytes((i * i + 7 * i) % 251 for i in range(5000)), "not-audio")

    def test_only_bad_numbers(self):
        self.refused("nan.wav", cap.wav_float([math.nan] * cap.RATE * 8), "not-finite|no-tone")
        self.refused("inf.wav", cap.wav_float([math.inf, -math.inf] * cap.RATE * 4),
                     "not-finite|no-tone")

    def test_directory(self):
        os.makedirs(self.path("folder.wav"), exist_ok=True)
        self.refused("folder.wav", None, "directory")

    def test_missing(self):
        self.refused("missing.wav", None, "missing")
        self.refused("no/such/folder.wav", None, "missing")

    def test_no_permission(self):
        path = self.file("mine.wav", cap.wav16(cap.tone(1)))
        os.chmod(path, 0)
        os.chmod(self.folder.name, 0o755)
        somebody = {"user": 65534} if os.geteuid() == 0 else {}
        try:
            done = self.run_it("check", path, expect=INPUT, **somebody)
        except PermissionError:
            self.skipTest("another user can't start the program from here")
        self.sentence(done, "mine.wav", "permission")

    def test_65_channels(self):
        self.refused("many.wav", cap.wav16(cap.tone(0.1), channels=65), "too-many-channels")

    def test_absurd_sample_rates(self):
        for rate in (0, 1, 7999, 384001, 3000000000):
            self.refused(f"rate{rate}.wav", cap.wav16(cap.tone(0.1), rate=rate), "sample-rate")

    def test_a_kind_that_pipes_can_not_carry(self):
        done = self.run_it("check", "-", given=b"fLaC" + bytes(100), expect=INPUT)
        self.sentence(done, "standard input", "FLAC")

    def test_garbage_from_a_pipe(self):
        self.sentence(self.run_it("check", "-", given=b"\x01\x02" * 5000, expect=INPUT),
                      "standard input")
        self.sentence(self.run_it("check", "-", given=b"", expect=INPUT), "standard input")


class OddInput(Case):
    """What looks bad but is measured, with a warning where one is due."""

    def warned(self, document):
        return [note["code"] for note in document["warnings"]]

    def near(self, document, percent, within=0.02):
        self.assertAlmostEqual(document["speed"]["error_percent"], percent, delta=within)

    def test_rich_in_harmonics(self):
        rich = cap.tone(10, 3150 * 1.01, 0.25, harmonics=((2, 0.5), (3, 0.4), (5, 0.2)))
        self.near(self.measured(self.file("rich.wav", cap.wav16(rich))), 1.0)

    def test_all_clipped(self):
        hard = [1.0 if x > 0 else -1.0 for x in cap.tone(10, 3150 * 1.01)]
        document = self.measured(self.file("hard.wav", cap.wav16(hard)))
        self.near(document, 1.0)
        self.assertIn("clipped", self.warned(document))
        self.assertGreater(document["capture"]["clipped_percent"], 99)

    def test_a_tone_that_stops(self):
        stops = cap.tone(12, 3150 * 1.01) + cap.silence(6)
        self.near(self.measured(self.file("stops.wav", cap.wav16(stops))), 1.0)

    def test_a_few_bad_numbers(self):
        samples = cap.tone(10, 3150 * 1.01)
        for i in range(100000, 100020):
            samples[i] = math.nan
        document = self.measured(self.file("fewnan.wav", cap.wav_float(samples)))
        self.near(document, 1.0)
        self.assertIn("not-finite", self.warned(document))

    def test_beyond_full_scale_in_float(self):
        loud = [6.0 * x for x in cap.tone(8, 3150 * 1.01)]
        self.near(self.measured(self.file("loud.wav", cap.wav_float(loud))), 1.0)

    def test_cut_short(self):
        whole = cap.wav16(cap.tone(12, 3150 * 1.01))
        document = self.measured(self.file("cut.wav", whole[:len(whole) * 3 // 4]))
        self.near(document, 1.0)
        self.assertIn("cut-short", self.warned(document))
        self.assertAlmostEqual(document["capture"]["duration_s"], 9.0, delta=0.01)

    def test_never_closed(self):
        document = self.measured(
            self.file("open.wav", cap.wav16(cap.tone(8, 3150 * 1.01), riff=0, data=0)))
        self.near(document, 1.0)
        self.assertIn("not-closed", self.warned(document))

    def test_name_that_is_no_utf_8(self):
        path = os.fsencode(self.folder.name) + b"/gr\xfc\xdf\n.wav"
        with open(path, "wb") as out:
            out.write(cap.wav16(cap.tone(8)))
        document = self.measured(path)
        self.assertTrue(document["file"].endswith("gr\ufffd\ufffd\n.wav"))

    def test_a_name_can_not_order_the_terminal_about(self):
        path = self.file("red\033[31m\nname\u009b.wav", cap.wav16(cap.tone(8)))
        note = self.run_it("check", path).stdout
        self.assertTrue(note.split(b"\n")[0].endswith(b"red?[31m?name?.wav"), note[:200])
        done = self.run_it("check", path + "\033", expect=INPUT)
        self.sentence(done, "red?[31m?name?.wav?: ")


class StandardInput(Case):
    def stripped(self, document):
        document.pop("file")
        document.pop("warnings")
        return document

    def test_the_same_by_file_pipe_and_redirection(self):
        reference = self.stripped(self.measured(self.good))
        with open(self.good, "rb") as file:
            whole = file.read()
        self.assertEqual(self.stripped(self.measured("-", given=whole)), reference)
        with open(self.good, "rb") as file:
            self.assertEqual(self.stripped(self.measured("-", stdin=file)), reference)
        raw = self.measured("--raw", "s16le,48000,2", "-", given=whole[44:])
        self.assertEqual(self.stripped(raw), reference)

    def test_a_file_that_was_read_in_part_goes_on_from_there(self):
        reference = self.stripped(self.measured(self.good))
        with open(self.good, "rb") as file:
            path = self.file("behind.bin", bytes(1000) + file.read())
        with open(path, "rb", buffering=0) as file:
            file.seek(1000)
            self.assertEqual(self.stripped(self.measured("-", stdin=file)), reference)

    def test_streams_that_do_not_know_their_length(self):
        reference = self.stripped(self.measured(self.good))
        with open(self.good, "rb") as file:
            body = file.read()[44:]
        for length in (0, 0xFFFFFFFF, 0x7FFFF000):
            head = cap.header(len(body), channels=2, riff=length, data=length)
            self.assertEqual(self.stripped(self.measured("-", given=head + body)), reference)

    def test_what_follows_the_sound_is_not_sound(self):
        reference = self.stripped(self.measured(self.good))
        with open(self.good, "rb") as file:
            whole = file.read()
        self.assertEqual(
            self.stripped(self.measured("-", given=whole + b"LIST" + bytes([0x7F] * 4000))),
            reference)

    def test_a_keyboard_is_no_capture(self):
        keyboard, far = pty.openpty()
        done = self.run_it("check", "-", stdin=far, expect=USAGE)
        self.sentence(done, "keyboard")
        os.close(keyboard)
        os.close(far)


class Json(Case):
    def test_the_contract(self):
        document = self.measured(self.good)
        self.assertEqual(list(document),
                         ["schema", "version", "file", "capture", "tone", "speed", "wow_flutter",
                          "components", "stereo", "gate", "warnings"])
        self.assertEqual(document["schema"], "evenspool.check/1")
        self.assertIn(document["gate"]["verdict"], ("adjust", "look-first", "leave"))
        self.assertAlmostEqual(document["speed"]["error_percent"], -1.5, delta=0.01)
        self.assertEqual(document["capture"]["channels"], 2)
        self.assertEqual(document["stereo"]["polarity"], "same")
        self.assertIsNone(document["speed"]["tape_error_percent"])

    def test_several_captures_one_a_line(self):
        bad = self.file("bad.wav", b"nothing of use")
        done = self.run_it("check", "--json", self.good, bad, self.good, expect=INPUT)
        lines = [json.loads(line) for line in done.stdout.decode().splitlines()]
        self.assertEqual([line["schema"] for line in lines],
                         ["evenspool.check/1", "evenspool.error/1", "evenspool.check/1"])
        self.assertEqual(lines[0]["speed"], lines[2]["speed"])
        self.sentence(done, "bad.wav")

    def test_the_same_every_time(self):
        first = self.run_it("check", "--json", self.good).stdout
        for _ in range(3):
            self.assertEqual(self.run_it("check", "--json", self.good).stdout, first)


class Options(Case):
    def test_given_tone_tape_and_clock(self):
        document = self.measured("--tone", "3150", "--tape-error=0.4", "--tape-u95", "0.1",
                                 "--clock-ppm=50", self.good)
        heard = document["speed"]["heard_percent"] / 100
        self.assertAlmostEqual(document["speed"]["error_percent"],
                               100 * ((1 + heard) * 1.004 * 1.00005 - 1), delta=1e-6)
        self.assertEqual(document["tone"]["nominal_source"], "given")
        self.assertEqual(document["speed"]["clock_ppm"], 50)

    def test_the_uncertainty_of_a_tape_taken_as_true(self):
        speed = self.measured("--tape-u95", "0.2", self.good)["speed"]
        self.assertEqual(speed["tape_error_percent"], 0)
        self.assertGreater(speed["u95_percent"], 0.19)

    def test_channels(self):
        left, right = cap.tone(8, 3150 * 1.01), cap.tone(8, 3150 * 0.99)
        both = [x for pair in zip(left, right) for x in pair]
        body = cap.pcm16(both)
        path = self.file("sides.wav", cap.header(len(body), channels=2) + body)
        for channel, number, percent in (("left", 1, 1.0), ("right", 2, -1.0), ("2", 2, -1.0)):
            document = self.measured("--channel", channel, path)
            self.assertEqual(document["capture"]["channel_used"], number)
            self.assertAlmostEqual(document["speed"]["error_percent"], percent, delta=0.02)
        self.sentence(self.run_it("check", "--channel", "3", path, expect=INPUT), "channel 3")

    def test_part_of_a_capture(self):
        halves = cap.tone(8, 3150 * 1.01) + cap.tone(8, 3150 * 0.99)
        path = self.file("halves.wav", cap.wav16(halves))
        first = self.measured("--end", "7.9", path)
        second = self.measured("--start", "8.1", path)
        self.assertAlmostEqual(first["speed"]["error_percent"], 1.0, delta=0.02)
        self.assertAlmostEqual(second["speed"]["error_percent"], -1.0, delta=0.02)
        self.assertEqual(first["capture"]["duration_s"], 16)

    def test_class_capstan_and_tolerance(self):
        document = self.measured("--class", "reel-19", "--capstan", "6.35", "--tolerance", "3",
                                 "--tone", "3150", self.good)
        self.assertEqual(document["gate"]["verdict"], "leave")

    def test_a_known_capstan_names_the_part(self):
        """pi f (d + h) = v: 47.625 mm/s at 7.5 turns a second is a capstan of 2.0 mm."""
        path = self.path("bent.wav")
        self.run_it("rehearse", "bent-capstan", "--seconds", "20", "-o", path)

        def suspect(*words):
            return self.measured(*words, path)["components"][0]["suspect"]
        self.assertEqual(suspect("--capstan", "2"), "capstan")
        self.assertNotEqual(suspect("--capstan", "3"), "capstan")
        self.assertEqual(suspect(), "capstan or belt")

    def test_limits(self):
        self.run_it("check", "--json", "--expect", "error_percent=2,u95=0.1", self.good)
        done = self.run_it("check", "--json", "--expect=error=1,u95_percent=0.1", self.good,
                           expect=OUTSIDE)
        self.sentence(done, "error_percent", "limit of 1")
        json.loads(done.stdout)
        mono = self.file("mono.wav", cap.wav16(cap.tone(8)))
        done = self.run_it("check", "--expect", "delay_us=5", mono, expect=OUTSIDE)
        self.sentence(done, "delay_us", "not known")

    def test_a_bad_capture_outweighs_a_limit(self):
        both = [self.good, self.path("gone.wav")]
        for order in (both, both[::-1]):
            self.run_it("check", "--expect", "error=0.1", *order, expect=INPUT)

    def test_dashes_end_the_options(self):
        self.file("--json", cap.wav16(cap.tone(8)))
        done = self.run_it("check", "--json", "--", "--json", cwd=self.folder.name)
        self.assertEqual(json.loads(done.stdout)["file"], "--json")


class Usage(Case):
    def wrong(self, *words, says=()):
        done = self.run_it(*words, expect=USAGE)
        self.assertEqual(done.stdout, b"")
        self.sentence(done, *says)

    def test_no_words_at_all(self):
        done = self.run_it(expect=USAGE)
        self.assertEqual(done.stdout, b"")
        self.assertIn(b"evenspool check", done.stderr)

    def test_wrong_words(self):
        self.wrong("chekc", says=["did you mean check?"])
        self.wrong("polish", says=["--help"])
        self.wrong("check", says=["CAPTURE"])
        self.wrong("help", "polish", says=["polish"])
        self.wrong("help", "check", "check", says=["no part"])
        self.wrong("help", "deck", "add", "now", says=["no more than 2"])
        self.wrong("rehearse", says=["--list"])

    def test_wrong_options(self):
        for words, says in ((["--tne", "3150"], "--tone"), (["--tone", "--json"], "HZ"),
                            (["--tone", "abc"], "300"), (["--tone=0x100"], "300"),
                            (["--tape-error=0,4"], "point"), (["--tape-error=nan"], "-50"),
                            (["--channel=middle"], "left"), (["--channel=0"], "1 to 64"),
                            (["--start=5", "--end=5"], "later"), (["--class=wire"], "cassette"),
                            (["--expect=error"], "NAME=LIMIT"), (["--expect=eror=1"], "error"),
                            (["--picture=a.doc"], ".png"), (["--raw=s16,48000,2"], "s16le"),
                            (["--color=red"], "never"), (["--json=1"], "no value"),
                            (["--csv=-", "--json"], "standard output")):
            self.wrong("check", *words, self.good, says=[says])

    def test_outputs_of_several(self):
        self.wrong("check", "--picture", "a.png", self.good, self.good, says=["single"])
        self.wrong("check", "--csv", "a.csv", self.good, self.good, says=["single"])
        self.wrong("check", "-", "-", says=["once"])


class Texts(Case):
    def test_help_and_version(self):
        overview = self.run_it("--help").stdout.decode()
        self.assertIn("check", overview)
        self.assertRegex(self.run_it("--version").stdout.decode(), r"^evenspool \d+\.\d+\.\d+\n$")
        text = self.run_it("check", "--help").stdout.decode()
        self.assertEqual(text, self.run_it("help", "check").stdout.decode())
        self.assertEqual(overview, self.run_it("help").stdout.decode())
        for option in ("--tone HZ", "--tape-error PERCENT", "--clock-ppm PPM", "--channel",
                       "--start SECONDS", "--end SECONDS", "--expect NAME=LIMIT,...", "--json",
                       "--picture FILE", "--csv FILE"):
            self.assertIn(option, text)

    def test_the_note(self):
        note = self.run_it("check", "--color", "never", "--tone", "3150", self.good).stdout.decode()
        lines = note.splitlines()
        self.assertEqual(lines[0], self.good)
        self.assertEqual(lines[2], "Adjust: the deck is 1.50 % slow; it needs to run faster.")
        self.assertIn("Mains voltage", note)
        self.assertIn("does not conduct", " ".join(note.split()))
        self.assertNotIn("nan", note.lower())
        self.assertTrue(all(len(line) <= 80 for line in lines[1:]))

    def test_a_fast_deck_is_to_run_slower(self):
        fast = self.file("fast.wav", cap.wav16(cap.tone(12, 3150 * 1.02)))
        note = self.run_it("check", fast).stdout.decode()
        self.assertIn("Adjust: the deck is 2.00 % fast; it needs to run slower.", note)

    def test_a_note_to_leave_it_has_no_caution(self):
        steady = self.file("true.wav", cap.wav16(cap.tone(12, 3150 * 1.0005)))
        note = self.run_it("check", steady).stdout.decode()
        self.assertIn("Leave it: the deck is 0.05 % fast", note)
        self.assertNotIn("Mains", note)

    def test_what_is_not_known_is_a_dash(self):
        strange = self.file("strange.wav", cap.wav16(cap.tone(12, 2000)))
        note = self.run_it("check", strange).stdout.decode()
        self.assertIn("Look first:", note)
        self.assertRegex(note, r"\n  error +- +not known: no usual test\n? *tone")
        self.assertNotIn("nan", note.lower())
        document = self.measured(strange)
        self.assertIsNone(document["speed"]["error_percent"])
        self.assertIsNone(document["tone"]["nominal_hz"])

    def on_terminal(self, env):
        """Standard output as a terminal's."""
        near, far = pty.openpty()
        self.run_it("check", self.good, stdout=far, env=env, stderr=subprocess.DEVNULL)
        os.close(far)
        text = b""
        while True:
            try:
                piece = os.read(near, 65536)
            except OSError:
                break
            if not piece:
                break
            text += piece
        os.close(near)
        return text

    def test_emphasis(self):
        escape = b"\033["
        self.assertNotIn(escape, self.run_it("check", self.good).stdout)
        self.assertIn(escape, self.run_it("check", "--color=always", self.good).stdout)
        self.assertIn(escape, self.on_terminal({}))
        self.assertNotIn(escape, self.on_terminal({"NO_COLOR": "1"}))
        self.assertNotIn(escape, self.on_terminal({"TERM": "dumb"}))

    def test_several_notes(self):
        note = self.run_it("check", "--tone", "3150", self.good, self.good).stdout.decode()
        self.assertEqual(note.count("Adjust:"), 2)


class Outputs(Case):
    def test_table(self):
        path = self.path("speed.csv")
        self.run_it("check", "--csv", path, self.good)
        with open(path, newline="") as file:
            rows = list(csv.reader(file))
        self.assertEqual(rows[0], ["time_s", "speed_error_percent"])
        times = [float(row[0]) for row in rows[1:]]
        self.assertEqual(times, sorted(set(times)))
        self.assertAlmostEqual(len(times) / (times[-1] - times[0]), 1201, delta=5)
        errors = [float(row[1]) for row in rows[1:] if row[1]]
        self.assertGreater(len(errors), 9 * 1201)
        self.assertAlmostEqual(sum(errors) / len(errors), -1.5, delta=0.01)

    def test_table_is_empty_where_there_is_no_tone(self):
        gap = cap.tone(6, 3150 * 1.01) + cap.silence(2) + cap.tone(6, 3150 * 1.01)
        text = self.run_it("check", "--csv", "-", self.file("gap.wav", cap.wav16(gap))).stdout
        rows = [line.split(",") for line in text.decode().splitlines()[1:]]
        empty = [float(when) for when, error in rows if error == ""]
        self.assertTrue(empty and all(5.5 < when < 9 for when in empty))
        self.assertTrue(all(abs(float(error) - 1) < 0.5 for _, error in rows if error))

    def test_table_on_standard_output_takes_the_note_s_place(self):
        text = self.run_it("check", "--csv", "-", self.good).stdout.decode()
        self.assertTrue(text.startswith("time_s,speed_error_percent\n"))
        self.assertNotIn("Adjust", text)
        self.assertTrue(all(line.count(",") == 1 for line in text.splitlines()))

    def test_table_is_renewed_but_replaces_nothing_else(self):
        path = self.path("again.csv")
        self.run_it("check", "--csv", path, self.good)
        self.run_it("check", "--csv", path, self.good)
        other = self.file("precious.txt", b"precious")
        done = self.run_it("check", "--csv", other, self.good, expect=AROUND)
        self.sentence(done, "precious.txt", "stays")
        with open(other, "rb") as file:
            self.assertEqual(file.read(), b"precious")

    def test_never_over_the_capture(self):
        before = os.stat(self.good)
        link = self.path("link.csv")
        os.symlink(self.good, link)
        for name in (self.good, link):
            self.sentence(self.run_it("check", "--csv", name, self.good, expect=USAGE), "capture")
        picture = self.file("odd.png", cap.wav16(cap.tone(8)))
        self.sentence(self.run_it("check", "--picture", picture, picture, expect=USAGE), "capture")
        after = os.stat(self.good)
        self.assertEqual((before.st_size, before.st_mtime_ns), (after.st_size, after.st_mtime_ns))

    def test_no_table_of_a_bad_capture(self):
        path = self.path("none.csv")
        self.run_it("check", "--csv", path, self.path("gone.wav"), expect=INPUT)
        self.assertEqual([n for n in os.listdir(self.folder.name) if n.startswith("none.csv")], [])

    def test_pictures(self):
        for ending, magic in ((".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")):
            path = self.path("picture" + ending)
            self.run_it("check", "--picture", path, self.good)
            with open(path, "rb") as file:
                self.assertTrue(file.read(8).startswith(magic))
        done = self.run_it("check", "--tone", "3150", "--picture", "/nowhere/at/all.png", self.good,
                           expect=AROUND)
        self.sentence(done, "/nowhere/at/all.png", "folder")
        self.assertIn(b"Adjust", done.stdout)

    def test_full_disks(self):
        if not os.path.exists("/dev/full"):
            self.skipTest("no /dev/full here")
        for words in (["check", self.good], ["check", "--json", self.good], ["--help"],
                      ["--version"], ["help", "--man", "check"], ["rehearse", "--list"],
                      ["check", "--csv", "-", self.good]):
            with open("/dev/full", "wb") as full:
                done = self.run_it(*words, expect=AROUND, stdout=full, stderr=subprocess.PIPE)
            self.assertIn("evenspool: ", done.stderr.decode())
        self.sentence(self.run_it("check", "--csv", "/dev/full", self.good, expect=AROUND),
                      "/dev/full", "full")

    def test_a_file_that_may_not_grow(self):
        def small():
            import signal
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))
        path = self.path("big.wav")
        done = self.run_it("rehearse", "right-on-speed", "--seconds", "3", "-o", path,
                           expect=AROUND, preexec_fn=small)
        self.sentence(done, "big.wav")
        self.assertEqual([n for n in os.listdir(self.folder.name) if n.startswith("big.")], [])


class Progress(Case):
    """A capture that takes more than a second to arrive, with standard error on a terminal or not."""

    def slowly(self, far):
        with open(self.good, "rb") as file:
            whole = file.read()
        feed = subprocess.Popen([PROGRAM, "check", "--json", "-"], stdin=subprocess.PIPE,
                                stdout=subprocess.PIPE, stderr=far,
                                env={"PATH": os.environ["PATH"], "TERM": "xterm"})
        step = len(whole) // 20 + 1
        for i in range(0, len(whole), step):
            feed.stdin.write(whole[i:i + step])
            feed.stdin.flush()
            time.sleep(0.1)
        out, err = feed.communicate(timeout=60)
        self.assertEqual(feed.returncode, DONE)
        json.loads(out)
        return err

    def test_is_shown_on_a_terminal_and_taken_away(self):
        near, far = pty.openpty()
        self.slowly(far)
        os.close(far)
        text = os.read(near, 65536)
        os.close(near)
        self.assertIn(b" s", text)
        self.assertTrue(text.startswith(b"\r-: ") and text.endswith(b"\r\033[K"), text)

    def test_is_silent_elsewhere(self):
        self.assertEqual(self.slowly(subprocess.PIPE), b"")


class Rehearse(Case):
    def test_list(self):
        names = [line.split()[0] for line in
                 self.run_it("rehearse", "--list").stdout.decode().splitlines()]
        self.assertGreaterEqual(len(names), 10)
        self.assertIn("slow-but-steady", names)

    def test_renders_a_capture_that_measures_as_its_truth_says(self):
        path = self.path("deck.flac")
        self.run_it("rehearse", "slow-but-steady", "--seconds=15", "--rate=44100", "--seed", "5",
                    "-o", path)
        with open(self.path("deck.json")) as file:
            truth = json.load(file)
        self.assertEqual(truth["schema"], "evenspool.truth/1")
        self.assertEqual(truth["scenario"]["seed"], 5)
        self.assertEqual(truth["capture"]["duration_s"], 15)
        document = self.measured(path)
        self.assertEqual(document["capture"]["samplerate_hz"], 44100)
        self.assertAlmostEqual(document["speed"]["error_percent"],
                               truth["speed"]["error_percent"], delta=0.02)

    def test_the_same_seed_gives_the_same_bytes(self):
        made = []
        for name, seed in (("a", "1"), ("b", "1"), ("c", "2")):
            self.run_it("rehearse", "dirty-pinch-roller", "--seconds", "3", "--seed", seed,
                        "--float", "-o", self.path(name + ".wav"))
            with open(self.path(name + ".wav"), "rb") as file:
                made.append(file.read())
        self.assertEqual(made[0], made[1])
        self.assertNotEqual(made[0], made[2])

    def test_replaces_nothing_unasked(self):
        words = ["rehearse", "right-on-speed", "--seconds", "3", "-o"]
        path, truth = self.file("kept.wav", b"kept"), self.path("kept.json")
        self.sentence(self.run_it(*words, path, expect=AROUND), "kept.wav", "--force")
        self.assertFalse(os.path.exists(truth))
        with open(path, "rb") as file:
            self.assertEqual(file.read(), b"kept")
        self.run_it(*words, path, "--force")
        self.assertGreater(os.path.getsize(path), 100000)
        self.sentence(self.run_it(*words, self.path("new.wav"), "--truth", truth, expect=AROUND),
                      "kept.json")
        self.assertFalse(os.path.exists(self.path("new.wav")))

    def test_truth_elsewhere(self):
        self.run_it("rehearse", "right-on-speed", "--seconds", "3", "-o", self.path("t.wav"),
                    "--truth", self.path("t-truth.json"))
        self.assertTrue(os.path.exists(self.path("t-truth.json")))
        self.assertFalse(os.path.exists(self.path("t.json")))

    def test_scenario_files(self):
        good = self.file("my.scenario", b"like = slow-but-steady\n")
        done = subprocess.run([PROGRAM, "rehearse", good, "--seconds", "3", "-o",
                               self.path("my.wav")], capture_output=True, check=False)
        self.assertIn(done.returncode, (DONE, INPUT))  # the text form is the tape floor's to test
        bad = self.file("bad.scenario", b"\x00\xff nonsense \x01")
        self.sentence(self.run_it("rehearse", bad, "-o", self.path("bad.wav"), expect=INPUT),
                      "bad.scenario")
        self.sentence(self.run_it("rehearse", "no-such-deck", "-o", self.path("no.wav"),
                                  expect=INPUT), "no-such-deck", "--list")
        self.assertFalse(os.path.exists(self.path("no.wav")))

    def test_wrong_words(self):
        for words, says in ((["right-on-speed"], "-o FILE"),
                            (["right-on-speed", "-o", "x.doc"], ".wav"),
                            (["right-on-speed", "-o", "x.wav", "--rate", "48000.5"], "whole"),
                            (["right-on-speed", "-o", "x.wav", "--rate", "100"], "8000"),
                            (["right-on-speed", "-o", "x.flac", "--float"], "float")):
            self.sentence(self.run_it("rehearse", *words, expect=USAGE, cwd=self.folder.name), says)
        self.assertEqual([n for n in os.listdir(self.folder.name) if n.startswith("x.")], [])


if __name__ == "__main__":
    unittest.main(verbosity=1)
