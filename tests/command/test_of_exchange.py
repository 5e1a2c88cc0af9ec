#!/usr/bin/env python3
"""`export` and `import` from outside: test_of_exchange.py PROGRAM"""
import json
import math
import os
import re
import resource
import signal
import sqlite3
import struct
import subprocess
import sys
import tempfile
import unittest

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, USAGE, INPUT, AROUND = 0, 2, 3, 4
KINDS = ["decks", "epochs", "tapes", "jobs", "readings", "nudges", "remarks", "plays", "anchors",
         "answers", "budget_lines"]
TIME = "2026-05-03T14:05:00Z"
# fields that evenspool.records/1 did not have yet
LATER = {"jobs": ["adjust"], "readings": ["error_us", "u95_us", "error_db", "u95_db"],
         "nudges": ["size_us", "size_db"]}
HARD = [0.1, 1e-300, 5e-324, 2.2250738585072014e-308, 1.7976931348623157e308, 1 / 3, 3150.0,
        1e15, 123456789012345680.0, 0.30000000000000004]

# Names and notes that a program may stumble over; what they are is said by the Unicode Standard.
TEXTS = ["Küche № 2", "デッキ", "магнитофон", "مسجل الصوت", "רשמקול", "\u202eright to left\u202c",
         "e\u0301 and \u00e9", "\u2028\u2029\u0085", "\U0001f4fc\U0001f468\u200d\U0001f527",
         "\ufeff\ufffe\uffff\U0010ffff", "quotes \" ' \\ / `", "</script>", "\x7f", "%s%n"]


def deck(number, **more):
    blank = dict.fromkeys(["speed_m_s", "capstan_m", "pinch_roller_m", "flywheel_m",
                           "motor_pulley_m", "belt_m", "idler_m", "hub_radius_m"])
    return {"id": number, "name": f"deck {number}", "transport": "cassette", **blank, "photo": "",
            "notes": "", **more}


def epoch(number, of, **more):
    return {"id": number, "deck": of, "number": 1, "began": "", "walk_percent": None, "why": "",
            **more}


def reading(number, of, document, **more):
    return {"id": number, "deck": of, "epoch": of, "job": None, "tape": None, "taken_at": TIME,
            "schema": "evenspool.check/1", "error_percent": 0.1, "u95_percent": 0.02,
            "weighted_quasi_peak_percent": None, **dict.fromkeys(LATER["readings"]),
            "capture": "side a.wav",
            "capture_sha256": "0123456789abcdef" * 4, "document": document, **more}


def document(**lists):
    return {"schema": "evenspool.records/2", "version": "0.1.0", "exported_at": TIME,
            **{kind: lists.get(kind, []) for kind in KINDS}}


def small():
    """One of every kind, with every reference used."""
    play = {"id": 1, "recorded_on": 1, "played_on": 2, "tape": 1, "reading": 1,
            "recorded_at": "2026-05-03", "played_at": TIME, "heard_percent": -0.4,
            "u_percent": 0.02, "dof": "infinite", "note": "a"}
    tape = {"id": 1, "name": "tape 1", "transport": "cassette", "programme": "short",
            "nominal_hz": 3150, "thickness_m": 18e-6, "length_m": 90.5, "recorded_epoch": 1,
            "recorded_at": "2026-05-03", "certificate_percent": 0.4, "certificate_u_percent": 0.01,
            "certificate_dof": "infinite", "certificate_u95_percent": 0.02,
            "certificate_at": TIME, "certificate_path": "recorded on deck 1", "notes": "x"}
    anchor = {"id": 1, "epoch": 1, "method": "tape-length", "made_at": "2026-05-03",
              "error_percent": 0.3, "u_percent": 0.02, "dof": 12.5, "u95_percent": 0.04,
              "u95_by_shape_percent": None, "note": ""}
    job = {"id": 1, "deck": 1, "opened_at": TIME, "closed_at": TIME, "asked": "slow",
           "adjust": "speed", "as_found": 1, "as_left": 1}
    return document(
        decks=[deck(1), deck(2)], epochs=[epoch(1, 1), epoch(2, 2)], tapes=[tape], jobs=[job],
        readings=[reading(1, 1, '{"b": 0.40,\n "a" :1e0}', job=1, tape=1)],
        nudges=[{"id": 1, "job": 1, "place": 1, "time_s": 3.5, "size_percent": -0.2,
                 "size_us": None, "size_db": None, "overshoot": 0}],
        remarks=[{"id": 1, "job": 1, "made_at": TIME, "text": "belt\nold"}], plays=[play],
        anchors=[anchor],
        answers=[{"id": 1, "anchor": 1, "place": 1, "key": "length", "value": 12.5}],
        budget_lines=[{"id": 1, "anchor": 1, "place": 1, "what": "rule", "formula": "a / sqrt(3)",
                       "source": "", "shape": "rectangular", "u_percent": 0.01,
                       "dof": "infinite"}])


def older():
    """The same as version 1 of the document wrote it."""
    what = {**small(), "schema": "evenspool.records/1"}
    for kind, names in LATER.items():
        for record in what[kind]:
            for name in names:
                del record[name]
    return what


class Case(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        os.mkdir(self.path("tmp"))

    def path(self, name):
        return os.path.join(self.folder, name)

    def run_it(self, *words, expect=DONE, given=b"", **more):
        env = {"PATH": os.environ["PATH"], "TMPDIR": self.path("tmp"), "HOME": self.folder,
               **more.pop("env", {})}
        for name in os.environ:
            if name.endswith("SAN_OPTIONS"):
                env[name] = os.environ[name]
        if "stdin" not in more:
            more["input"] = given
        done = subprocess.run([PROGRAM, *words], capture_output="stdout" not in more, env=env,
                              timeout=120, check=False, **more)
        self.assertEqual(done.returncode, expect, (done.stdout, done.stderr))
        self.assertEqual(os.listdir(self.path("tmp")), [])
        return done

    def sentence(self, done, *parts):
        text = done.stderr.decode()
        self.assertEqual(text.count("\n"), 1, text)
        self.assertTrue(text.startswith("evenspool: ") and text.endswith(".\n"), text)
        for part in parts:
            self.assertIn(part, text)

    def put_in(self, what, into="records.db", **more):
        text = what if isinstance(what, bytes) else json.dumps(what).encode()
        return self.run_it("import", "-", "--records", self.path(into), given=text, **more)

    def take_out(self, of="records.db"):
        return self.run_it("export", "--records", self.path(of)).stdout

    def dump(self, of="records.db"):
        """All that is in the file, read by SQLite itself; None: there is no file."""
        if not os.path.exists(self.path(of)):
            return None
        with sqlite3.connect(self.path(of)) as database:
            return list(database.iterdump())

    def without_time(self, text):
        return re.sub(rb'"exported_at": "[^"]*"', b"", text, count=1)


class RoundTrip(Case):
    def goes_round(self, what):
        """In, out, into another file, and out again: the same records, then the same bytes."""
        self.put_in(what)
        once = self.take_out()
        back = json.loads(once)
        self.assertEqual(list(back), list(what))
        for kind in KINDS:
            self.assertEqual(back[kind], what[kind])
        self.put_in(once, into="second.db")
        self.assertEqual(self.without_time(self.take_out("second.db")), self.without_time(once))
        return back

    def test_one_of_everything(self):
        self.goes_round(small())

    def test_numbers_to_the_last_bit(self):
        what = small()
        what["answers"] = [{"id": i + 1, "anchor": 1, "place": i + 1, "key": f"k{i}", "value": v * sign}
                           for i, (v, sign) in enumerate((v, s) for v in HARD for s in (1, -1))]
        back = self.goes_round(what)
        for there, here in zip(what["answers"], back["answers"]):
            self.assertEqual(struct.pack("d", there["value"]), struct.pack("d", here["value"]))
        with sqlite3.connect(self.path("records.db")) as database:
            kept = [row[0] for row in database.execute("SELECT value FROM answer ORDER BY id")]
            self.assertEqual(kept, [answer["value"] for answer in what["answers"]])
            dof, = database.execute("SELECT dof FROM play").fetchone()
            self.assertTrue(math.isinf(dof))

    def test_texts_of_every_script(self):
        what = document(decks=[deck(i + 1, name=f"{i}", notes=text) for i, text
                               in enumerate(TEXTS)],
                        epochs=[epoch(i + 1, i + 1, why=text) for i, text in enumerate(TEXTS)])
        for i, text in enumerate(TEXTS[:6]):
            what["decks"][i]["name"] = text
        self.goes_round(what)

    def test_results_stay_as_they_were_given_out(self):
        what = small()
        texts = ['{"b": 0.40,\n\t"a" : 1.0e0, "\\u0061": "\\/"}', "null", "[1,2 , 3]",
                 json.dumps({"long": "x" * 200000})]
        what["readings"] += [reading(i + 2, 1, text) for i, text in enumerate(texts)]
        back = self.goes_round(what)
        self.assertEqual([r["document"] for r in back["readings"]][1:], texts)

    def test_two_thousand_decks(self):
        count = 2000
        self.goes_round(document(decks=[deck(i, capstan_m=0.002 + i * 1e-7) for i in
                                        range(1, count + 1)],
                                 epochs=[epoch(i, i) for i in range(1, count + 1)]))

    def test_a_job_with_another_screw_in_its_own_unit(self):
        what = small()
        what["jobs"][0]["adjust"] = "azimuth"
        what["readings"][0].update(error_percent=None, u95_percent=None, error_us=-180.5, u95_us=0.5)
        what["nudges"][0].update(size_percent=None, size_us=181.25)
        self.goes_round(what)

    def test_jobs_of_an_older_document_are_the_speeds(self):
        self.put_in(older())
        self.assertEqual({kind: what for kind, what in json.loads(self.take_out()).items()
                          if kind in KINDS}, {kind: small()[kind] for kind in KINDS})

    def test_nothing_at_all(self):
        self.goes_round(document())

    def test_through_a_pipe_into_the_usual_place(self):
        self.put_in(small())
        self.run_it("import", "-", given=self.take_out())
        self.assertTrue(os.path.exists(self.path(".local/share/evenspool/records.db")))
        self.assertEqual(self.without_time(self.run_it("export").stdout),
                         self.without_time(self.take_out()))

    def test_into_records_that_hold_something(self):
        first, second = small(), small()
        for number, record in enumerate(second["decks"]):
            record["name"] = f"other {number}"
        second["tapes"][0]["name"] = "other tape"
        self.put_in(first)
        self.put_in(second)
        both = json.loads(self.take_out())
        self.assertEqual([d["name"] for d in both["decks"]],
                         ["deck 1", "deck 2", "other 0", "other 1"])
        self.assertEqual(both["plays"][1],
                         {**second["plays"][0], "id": 2, "recorded_on": 3, "played_on": 4,
                          "tape": 2, "reading": 2})
        self.assertEqual(both["readings"][1],
                         {**second["readings"][0], "id": 2, "deck": 3, "epoch": 3, "job": 2,
                          "tape": 2})


class Telling(Case):
    def test_what_came_in_and_what_went_out(self):
        done = self.put_in(small())
        said = " ".join(done.stdout.decode().split())
        self.assertEqual(said, f"Taken in from standard input (exported {TIME} by version 0.1.0): 2 decks, "
                               "2 epochs, 1 tape, 1 job, 1 reading, 1 nudge, 1 remark, 1 play, "
                               "1 anchor, 1 answer, 1 budget line.")
        out = self.path("out.json")
        done = self.run_it("export", "--records", self.path("records.db"), "-o", out)
        self.assertIn(": 2 decks, ", " ".join(done.stdout.decode().split()))
        with open(out, "rb") as file:
            self.assertEqual(self.without_time(file.read()), self.without_time(self.take_out()))

    def test_as_json(self):
        counts = {kind: 1 for kind in KINDS} | {"decks": 2, "epochs": 2}
        done = self.put_in(small())
        out = self.path("out.json")
        done = self.run_it("export", "--records", self.path("records.db"), "-o", out, "--json")
        told = json.loads(done.stdout)
        self.assertEqual(told["schema"], "evenspool.exchange/1")
        self.assertEqual((told["file"], told["records"]), (out, counts))
        done = self.run_it("import", out, "--records", self.path("b.db"), "--json")
        back = json.loads(done.stdout)
        self.assertEqual((back["file"], back["records"]), (out, counts))
        self.assertEqual(back["exported_at"], told["exported_at"])


class Rubbish(Case):
    """Each is refused with one sentence, and nothing changes: not in records, not where none are."""

    def refused(self, what, *parts, expect=INPUT):
        for into in ("records.db", "none.db"):
            before = self.dump(into)
            self.sentence(self.put_in(what, into=into, expect=expect), *parts)
            self.assertEqual(self.dump(into), before)
        self.assertFalse(os.path.exists(self.path("none.db")))

    def setUp(self):
        super().setUp()
        self.put_in(document(decks=[deck(1, name="mine")], epochs=[epoch(1, 1)]))

    def test_what_is_no_json(self):
        self.refused(b"", "standard input: Line 1, column 1: this is not JSON")
        self.refused(b"Dear customer,\nyour deck is ready.\n", "this is not JSON")
        self.refused(bytes(range(256)) * 20, "this is not JSON")
        text = json.dumps(small(), indent=1).encode()
        for cut in range(1, len(text) - 1, len(text) // 12):
            self.refused(text[:cut], "this is not JSON")
        with open(self.path("records.db"), "rb") as file:
            self.refused(file.read(), "this is not JSON")

    def test_another_programs_document(self):
        self.refused({"schema": "evenspool.check/1"}, "no export of this program's records")
        self.refused([], "no export of this program's records")

    def test_a_newer_version(self):
        self.refused({**small(), "schema": "evenspool.records/3"}, "newer version")

    def test_fields_of_another_version(self):
        self.refused({**older(), "schema": "evenspool.records/2"}, '"adjust" is missing')
        self.refused({**small(), "schema": "evenspool.records/1"}, '"adjust" is not known')

    def test_keys_and_kinds(self):
        what = small()
        del what["plays"][0]["dof"]
        self.refused(what, '"dof" is missing in a record of kind play')
        what = small()
        what["plays"][0]["colour"] = 1
        self.refused(what, '"colour" is not known')
        what = small()
        del what["nudges"]
        self.refused(what, '"nudges" is missing')
        what = small()
        what["tapes"][0]["name"] = 7
        self.refused(what, '"name" wants a text')
        what = small()
        what["tapes"][0]["name"] = "x" * 256
        self.refused(what, '"name" wants a text of at most 255 bytes')

    def test_values_that_break_a_rule(self):
        for kind, key, value, part in (
                ("plays", "u_percent", 0, "above 0"), ("plays", "u_percent", -1, "above 0"),
                ("plays", "dof", 0.5, "at least 1"), ("plays", "heard_percent", None, "missing"),
                ("plays", "played_at", "2026-02-30", "day"), ("tapes", "name", "", "missing"),
                ("readings", "document", "{", "not JSON"), ("decks", "name", "a\nb", "one line"),
                ("readings", "capture_sha256", "0" * 63, "64 digits"),
                ("jobs", "adjust", "height", "speed, azimuth, level or balance"),
                ("readings", "u95_us", -1, "below 0")):
            what = small()
            what[kind][0][key] = value
            self.refused(what, part)

    def test_records_that_do_not_belong_together(self):
        what = small()
        what["plays"][0]["recorded_on"] = 9
        self.refused(what, "not there")
        what = small()
        what["decks"][1]["name"] = "deck 1"
        self.refused(what, "deck 1")
        what = small()
        what["decks"][1]["id"] = 1
        self.refused(what)
        what = document(decks=[deck(1)])
        self.refused(what, "without an epoch")

    def test_a_name_that_is_there_already(self):
        before = self.dump()
        what = document(decks=[deck(1, name="new"), deck(2, name="mine")],
                        epochs=[epoch(1, 1), epoch(2, 2)])
        self.sentence(self.put_in(what, expect=INPUT), "mine")
        self.assertEqual(self.dump(), before)

    def test_files_that_can_not_be_read(self):
        for name, part in (("missing.json", "no such file"), (".", "folder")):
            done = self.run_it("import", self.path(name), "--records", self.path("records.db"),
                               expect=INPUT)
            self.sentence(done, part)
        self.run_it("import", "--records", self.path("records.db"), expect=USAGE)


class Surroundings(Case):
    def setUp(self):
        super().setUp()
        self.put_in(small())

    def export(self, *words, **more):
        return self.run_it("export", "--records", self.path("records.db"), *words, **more)

    def test_nothing_is_replaced_unasked(self):
        out = self.path("out.json")
        with open(out, "w", encoding="utf-8") as file:
            file.write("mine")
        self.sentence(self.export("-o", out, expect=AROUND), "there already")
        with open(out, encoding="utf-8") as file:
            self.assertEqual(file.read(), "mine")
        self.export("-o", out, "--force")
        with open(out, encoding="utf-8") as file:
            self.assertEqual(json.load(file)["schema"], "evenspool.records/2")

    def test_the_records_themselves_are_not_written_over(self):
        before = self.dump()
        os.symlink(self.path("records.db"), self.path("link"))
        for name in ("records.db", "link"):
            self.sentence(self.export("-o", self.path(name), "--force", expect=USAGE),
                          "records themselves")
        self.assertEqual(self.dump(), before)

    def test_a_full_disk(self):
        with open("/dev/full", "wb") as full:
            done = self.export(expect=AROUND, stdout=full, stderr=subprocess.PIPE)
        self.sentence(done, "disk is full")
        self.sentence(self.export("-o", "/dev/full", expect=AROUND), "disk is full")

    def test_a_disk_that_fills_up_on_the_way(self):
        more = document(decks=[deck(i, name=f"new {i}", notes="x" * 3000) for i in range(1, 200)],
                        epochs=[epoch(i, i) for i in range(1, 200)])

        def limit():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (150000, 150000))
        before = self.dump()
        self.sentence(self.put_in(more, expect=AROUND, preexec_fn=limit), "records.db")
        self.assertEqual(self.dump(), before)
        self.put_in(more)
        done = self.export("-o", self.path("out.json"), expect=AROUND, preexec_fn=limit)
        self.sentence(done, "out.json")
        self.assertFalse(any(name.startswith("out.json") for name in os.listdir(self.folder)))

    def test_no_records(self):
        done = self.run_it("export", "--records", self.path("none.db"), "-o", self.path("x"),
                           expect=AROUND)
        self.sentence(done, "none.db")
        self.assertFalse(os.path.exists(self.path("x")))
        self.assertFalse(os.path.exists(self.path("none.db")))

    def test_no_database(self):
        with open(self.path("letter"), "w", encoding="utf-8") as file:
            file.write("Dear customer")
        for words in (("export",), ("import", self.path("out.json"))):
            self.export("-o", self.path("out.json"), "--force")
            done = self.run_it(*words, "--records", self.path("letter"), expect=AROUND)
            self.sentence(done, "letter")

    def test_locked_by_another_program(self):
        database = sqlite3.connect(self.path("records.db"), isolation_level=None)
        self.addCleanup(database.close)
        database.execute("BEGIN IMMEDIATE")
        more = document(decks=[deck(1, name="new")], epochs=[epoch(1, 1)])
        self.sentence(self.put_in(more, expect=AROUND), "Another program")
        self.assertEqual(json.loads(self.take_out())["decks"], small()["decks"])
        database.execute("ROLLBACK")
        self.put_in(more)

    @unittest.skipIf(os.geteuid() == 0 and not os.path.exists("/usr/bin/setpriv"),
                     "root may write anywhere")
    def test_read_only(self):
        before = self.dump()
        os.chmod(self.path("records.db"), 0o444)
        os.chmod(self.folder, 0o555)
        self.addCleanup(os.chmod, self.folder, 0o755)
        os.chmod(self.path("tmp"), 0o777)
        drop = {"preexec_fn": lambda: (os.setgid(65534), os.setuid(65534))} \
            if os.geteuid() == 0 else {}
        more = document(decks=[deck(1, name="new")], epochs=[epoch(1, 1)])
        self.sentence(self.put_in(more, expect=AROUND, **drop), "records.db")
        done = self.run_it("export", "--records", self.path("records.db"), **drop)
        self.assertEqual(json.loads(done.stdout)["decks"], small()["decks"])
        os.chmod(self.folder, 0o755)
        self.assertEqual(self.dump(), before)


if __name__ == "__main__":
    unittest.main(verbosity=1)
