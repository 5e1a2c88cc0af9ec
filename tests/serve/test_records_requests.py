#!/usr/bin/env python3
"""The records over HTTP, over a real records file and a scripted session:
test_records_requests.py PROGRAM"""
import http.client
import json
import os
import sqlite3
import tempfile
import threading
import time
import unittest
from urllib.parse import quote

from test_requests import PATIENCE_S, Server, Stream, start  # takes PROGRAM from the command line

# One metre of a cassette's tape takes 1 / 0.047625 s at true speed (IEC 60094-1: 4.76 cm/s;
# 1 7/8 in/s = 4.7625 cm/s). 0.4 % less time means 0.4 % too fast.
METRES, SPEED_M_S = 40.0, 0.047625


class Bench(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.records = os.path.join(folder.name, "made", "records.db")
        self.server = Server("--records", self.records)
        self.addCleanup(self.server.end)

    def get(self, path):
        status, _, text = self.server.ask("GET", path)
        self.assertEqual(status, 200, text)
        return json.loads(text)

    def post(self, path, **form):
        status, _, text = self.server.post(path, form)
        self.assertEqual(status, 200, text)
        return json.loads(text)

    def refused(self, path, form, code, status=422):
        got, _, text = self.server.post(path, form)
        self.assertEqual((got, json.loads(text)["code"]), (status, code), text)
        return json.loads(text)["text"]

    def timed(self, deck, fast_percent=0.4, **more):
        return self.post("/api/anchors/add", deck=deck, method="tape-length", length_m=METRES,
                         time_s=METRES / SPEED_M_S / (1 + fast_percent / 100), **more)

    def two_decks(self):
        self.post("/api/decks/add", name="Attic", began="2024-01-02")
        self.post("/api/decks/add", name="Bench")


class WithoutRecords(Bench):
    def test_everything_is_empty_and_no_file_is_made(self):
        self.assertEqual(self.get("/api/decks")["decks"], [])
        self.assertEqual(self.get("/api/jobs")["jobs"], [])
        self.assertEqual(self.get("/api/tapes")["tapes"], [])
        trust = self.get("/api/trust")
        self.assertEqual((trust["decks"], trust["links"], trust["next"]), ([], [], []))
        self.assertIsNone(trust["consistent"])
        status, _, text = self.server.ask("GET", "/api/deck?name=Attic")
        self.assertEqual((status, json.loads(text)["code"]), (422, "unknown"))
        self.assertFalse(os.path.exists(self.records))

    def test_a_refused_change_makes_no_file(self):
        self.refused("/api/decks/add", {"name": "Attic", "colour": "black"}, "unknown-key")
        self.refused("/api/decks/add", {"name": ["Attic"]}, "wrong-kind")
        self.assertFalse(os.path.exists(self.records))

    def test_the_forms_are_there_without_records(self):
        forms = {form["method"]: form for form in self.get("/api/forms")["forms"]}
        self.assertIn("tape-length", forms)
        questions = {q["key"]: q for q in forms["tape-length"]["questions"]}
        self.assertTrue(questions["length_m"]["needed"])
        self.assertEqual(questions["length_m"]["unit"], "m")
        self.assertTrue(forms["tape-length"]["formula"])

    def test_a_file_that_is_none_of_ours_is_told_and_left_alone(self):
        os.makedirs(os.path.dirname(self.records))
        with open(self.records, "w", encoding="ascii") as file:
            file.write("this is no database at all" * 200)
        before = os.stat(self.records)
        status, _, text = self.server.ask("GET", "/api/decks")
        self.assertEqual(status, 503)
        self.assertTrue(json.loads(text)["text"].endswith("."), text)
        self.assertEqual(self.server.post("/api/decks/add", {"name": "A"})[0], 503)
        self.assertEqual(os.stat(self.records).st_mtime_ns, before.st_mtime_ns)


class Decks(Bench):
    def test_are_added_changed_and_removed(self):
        self.two_decks()
        decks = self.get("/api/decks")["decks"]
        self.assertEqual([d["name"] for d in decks], ["Attic", "Bench"])
        self.assertEqual((decks[0]["class"], decks[0]["tied"]), ("cassette", False))
        self.assertIsNone(decks[0]["error_percent"])
        self.post("/api/decks/edit", deck="Attic", name="Attic, left", capstan_m=0.0025,
                  notes="belt new")
        told = self.get("/api/deck?name=" + quote("Attic, left"))
        self.assertEqual(told["deck"]["capstan_m"], 0.0025)
        self.assertEqual(told["deck"]["notes"], "belt new")
        self.post("/api/decks/edit", deck="Attic, left", capstan_m=None)
        told = self.get("/api/deck?name=" + quote("Attic, left"))["deck"]
        self.assertIsNone(told["capstan_m"])
        self.assertEqual(told["notes"], "belt new")
        self.post("/api/decks/remove", deck="Bench")
        self.assertEqual(len(self.get("/api/decks")["decks"]), 1)

    def test_names_are_of_any_script_and_never_twice(self):
        name = "Deck «Ω» 録音機 & 50 %"
        self.post("/api/decks/add", name=name)
        self.assertEqual(self.get("/api/deck?name=" + quote(name))["deck"]["name"], name)
        self.refused("/api/decks/add", {"name": name}, "name-taken")
        self.refused("/api/decks/add", {"name": ""}, "bad-value")
        self.refused("/api/decks/add", {"name": "two\nlines"}, "bad-value")
        self.refused("/api/decks/add", {"name": "x" * 300}, "too-long")
        self.refused("/api/decks/add", {"name": "A", "transport": "wire"}, "class", 400)
        self.refused("/api/decks/add", {"name": "A", "id": 7}, "unknown-key")
        self.refused("/api/decks/edit", {"deck": "Atic", "name": "B"}, "unknown")
        self.assertEqual(len(self.get("/api/decks")["decks"]), 1)

    def test_one_that_was_adjusted_is_a_new_unknown(self):
        self.two_decks()
        self.timed("Attic", made_at="2024-02-03")
        before = self.get("/api/deck?name=Attic")
        self.assertAlmostEqual(before["trust"]["error_percent"], 0.4, places=5)
        self.post("/api/decks/adjusted", deck="Attic", when="2024-03-04", why="new belt")
        after = self.get("/api/deck?name=Attic")
        self.assertEqual([e["number"] for e in after["epochs"]], [1, 2])
        self.assertEqual(after["epochs"][1]["why"], "new belt")
        self.assertIsNone(after["trust"]["error_percent"])
        self.assertFalse(after["trust"]["tied"])
        self.assertEqual(len([d for d in self.get("/api/trust")["decks"]
                              if d["name"] == "Attic"]), 2)
        self.refused("/api/decks/adjusted", {"deck": "Attic", "when": "tomorrow"}, "bad-day", 400)

    def test_history_goes_only_when_that_is_said(self):
        self.two_decks()
        self.timed("Attic")
        self.refused("/api/decks/remove", {"deck": "Attic"}, "still-used")
        self.refused("/api/decks/remove", {"deck": "Attic", "with_history": 1}, "wrong-kind")
        self.assertEqual(len(self.get("/api/decks")["decks"]), 2)
        self.post("/api/decks/remove", deck="Attic", with_history=True)
        self.assertEqual(len(self.get("/api/decks")["decks"]), 1)

    def test_drift_is_set(self):
        self.two_decks()
        self.post("/api/decks/drift", deck="Attic", walk_percent=0.3)
        self.assertEqual(self.get("/api/deck?name=Attic")["epochs"][0]["walk_percent"], 0.3)
        self.post("/api/decks/drift", deck="Attic", walk_percent=None)
        self.assertIsNone(self.get("/api/deck?name=Attic")["epochs"][0]["walk_percent"])

    def test_a_picture_must_be_there(self):
        self.refused("/api/decks/add", {"name": "A", "photo": self.folder + "/none.jpg"}, "no-photo")

    def test_a_picture_is_shown_only_if_it_is_one(self):
        picture, letter = os.path.join(self.folder, "deck.png"), os.path.join(self.folder, "letter")
        with open(picture, "wb") as file:
            file.write(b"\x89PNG\r\n\x1a\nand so on")
        with open(letter, "w", encoding="ascii") as file:
            file.write("for nobody else to read")
        self.post("/api/decks/add", name="A", photo=picture)
        self.post("/api/decks/add", name="B", photo=letter)
        self.post("/api/decks/add", name="C")
        status, headers, text = self.server.ask("GET", "/api/photo?deck=C")
        self.assertEqual((status, json.loads(text)["code"]), (422, "unknown"))
        status, headers, text = self.server.ask("GET", "/api/photo?deck=B")
        self.assertEqual((status, json.loads(text)["code"]), (422, "not-a-picture"))
        self.assertNotIn("nobody", text)
        connection = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=PATIENCE_S)
        connection.request("GET", "/api/photo?deck=A")
        answer = connection.getresponse()
        self.assertEqual((answer.status, answer.headers["Content-Type"]), (200, "image/png"))
        self.assertEqual(answer.read(), b"\x89PNG\r\n\x1a\nand so on")
        connection.close()
        os.remove(picture)
        self.assertEqual(self.server.ask("GET", "/api/photo?deck=A")[0], 503)

    def test_what_is_asked_with_the_address_must_be_known(self):
        for path in ("/api/deck?nam=A", "/api/decks?x=1", "/api/deck?name=" + "x" * 300):
            status, _, text = self.server.ask("GET", path)
            self.assertEqual((status, json.loads(text)["code"]), (422, "unknown-key"), path)
        for number in ("0", "-1", "abc", ""):
            status, _, text = self.server.ask("GET", "/api/reading?id=" + number)
            self.assertEqual((status, json.loads(text)["code"]), (400, "bad-number"), number)


class Trust(Bench):
    def test_an_anchor_is_reckoned_without_being_kept(self):
        self.two_decks()
        form = {"method": "tape-length", "length_m": METRES,
                "time_s": METRES / SPEED_M_S / 1.004}
        told = self.post("/api/anchors/reckon", **form)
        self.assertEqual(told["schema"], "evenspool.anchor/1")
        self.assertAlmostEqual(told["error_percent"], 0.4, places=6)
        # JCGM 100 (5.1.2): the parts add up as squares
        total = sum(part["u_percent"] ** 2 for part in told["budget"]) ** 0.5
        self.assertAlmostEqual(told["u_percent"], total, delta=1e-3 * total)
        self.assertGreater(told["u95_percent"], 1.9 * told["u_percent"])
        self.assertEqual(self.get("/api/trust")["links"], [])
        finer = self.post("/api/anchors/reckon", **form, stretch_percent=0.001)
        self.assertLess(finer["u_percent"], told["u_percent"])

    def test_wrong_answers_are_told_in_words(self):
        self.refused("/api/anchors/reckon", {"method": "tape-length"}, "missing-answer")
        self.refused("/api/anchors/reckon", {"method": "tea-leaves"}, "no-method", 400)
        self.refused("/api/anchors/reckon", {}, "no-method", 400)
        text = self.refused("/api/anchors/reckon", {"method": "tape-length", "length_m": 1e9,
                                                    "time_s": 1}, "impossible-answer")
        self.assertIn("between", text)
        self.refused("/api/anchors/reckon", {"method": "counter", "length_m": 1}, "unknown-key")
        self.refused("/api/anchors/add", {"method": "tape-length", "length_m": METRES, "time_s": 840,
                                          "deck": "Nowhere"}, "no-records", 503)

    def test_an_anchor_and_a_play_tie_two_decks(self):
        self.two_decks()
        kept = self.timed("Attic", made_at="2024-05-03", note="by clicks")
        self.assertGreater(kept["id"], 0)
        # recorded on a deck +0.4 % fast, heard 0.1 % low on the other: 1.004 * 0.999
        play = self.post("/api/plays/add", recorded_on="Attic", played_on="Bench",
                         heard_percent=-0.1, u95_percent=0.04, recorded_at="2024-05-03",
                         played_at="2024-05-03")
        self.assertFalse(play["same_deck"])
        self.post("/api/decks/drift", deck="Attic", walk_percent=0)
        self.post("/api/decks/drift", deck="Bench", walk_percent=0)
        decks = {d["name"]: d for d in self.get("/api/trust")["decks"]}
        self.assertAlmostEqual(decks["Bench"]["error_percent"], 100 * (1.004 * 0.999 - 1), places=4)
        u = (kept["u_percent"] ** 2 + (0.04 / 1.96) ** 2) ** 0.5  # JCGM 100, 5.1.2
        self.assertAlmostEqual(decks["Bench"]["u_percent"], u, delta=0.01 * u)
        self.assertIn("timed tape length", decks["Attic"]["tied_to"])
        told = self.get("/api/deck?name=Attic")
        self.assertEqual(told["anchors"][0]["note"], "by clicks")
        self.assertGreater(len(told["anchors"][0]["budget"]), 3)
        following = self.get("/api/next?deck=Bench")
        self.assertEqual(following["name"], "Bench")
        self.assertAlmostEqual(sum(s["share_percent"] for s in following["shares"])
                               + following["drift_share_percent"], 100, places=6)
        self.post("/api/plays/remove", id=play["id"])
        self.post("/api/anchors/remove", id=kept["id"])
        self.assertEqual(self.get("/api/trust")["links"], [])
        self.refused("/api/plays/remove", {"id": play["id"]}, "unknown")
        self.refused("/api/plays/remove", {"id": 1.5}, "wrong-kind")
        self.refused("/api/plays/remove", {"id": -1}, "wrong-kind")

    def test_a_play_on_the_same_deck_is_kept_and_explained(self):
        self.two_decks()
        told = self.post("/api/plays/add", recorded_on="Attic", played_on="Attic",
                         heard_percent=0.01, u95_percent=0.02)
        self.assertTrue(told["same_deck"])
        self.assertIn("drift", told["text"])

    def test_a_play_needs_an_uncertainty(self):
        self.two_decks()
        form = {"recorded_on": "Attic", "played_on": "Bench", "heard_percent": 0.1}
        self.refused("/api/plays/add", form, "bad-uncertainty", 400)
        self.refused("/api/plays/add", {**form, "u95_percent": 0}, "bad-uncertainty", 400)
        self.refused("/api/plays/add", {**form, "u95_percent": "little"}, "wrong-kind")
        self.refused("/api/plays/add", {**form, "u95_percent": 0.1, "played_on": "X"}, "unknown")

    def test_the_one_that_disagrees_is_named_and_can_be_left_out(self):
        self.two_decks()
        for deck in ("Attic", "Bench"):
            self.post("/api/decks/drift", deck=deck, walk_percent=0)
        for _ in range(2):
            self.timed("Attic")
        for heard in (0.1, 0.11, 0.09, -1.5):
            self.post("/api/plays/add", recorded_on="Attic", played_on="Bench", heard_percent=heard,
                      u95_percent=0.05)
        told = self.get("/api/trust")
        self.assertFalse(told["consistent"])
        self.assertEqual([(s["kind"], s["id"]) for s in told["suspects_of_blunder"]], [("play", 4)])
        told = self.get("/api/trust?robust=remove")
        self.assertTrue(told["consistent"])
        self.assertEqual(told["removed"], 1)
        bench = [d for d in told["decks"] if d["name"] == "Bench"][0]
        self.assertAlmostEqual(bench["error_percent"], 100 * (1.004 * 1.001 - 1), places=3)
        status, _, text = self.server.ask("GET", "/api/trust?robust=maybe")
        self.assertEqual((status, json.loads(text)["code"]), (400, "bad-value"))

    def test_the_least_known_deck_is_told_what_to_do_next(self):
        self.two_decks()
        self.timed("Attic")
        following = self.get("/api/trust")["next"]
        self.assertEqual(following[0]["deck"], "Bench")
        self.assertIsNone(following[0]["now_u95_percent"])
        self.assertGreater(following[0]["predicted_u95_percent"], 0)


class Tapes(Bench):
    def test_a_home_made_tape_has_the_error_of_its_deck(self):
        self.two_decks()
        self.timed("Attic", made_at="2024-05-03")
        self.post("/api/tapes/add", name="Tone 1", recorded_on="Attic", recorded_at="2024-05-03",
                  nominal_hz=3150)
        tape = self.get("/api/trust")["tapes"][0]
        self.assertAlmostEqual(tape["error_percent"], 0.4, places=5)
        self.assertIn("Attic", tape["path"])
        self.post("/api/tapes/edit", tape="Tone 1", name="Tone one", notes="side A")
        kept = self.get("/api/tapes")["tapes"][0]
        self.assertEqual((kept["name"], kept["notes"], kept["nominal_hz"]),
                         ("Tone one", "side A", 3150))
        self.assertAlmostEqual(kept["certificate_percent"], 0.4, places=5)
        self.post("/api/tapes/remove", tape="Tone one")
        self.assertEqual(self.get("/api/tapes")["tapes"], [])

    def test_a_bought_tape_brings_its_own(self):
        self.post("/api/tapes/add", name="Bought", certificate_percent=-0.05,
                  certificate_u95_percent=0.2)
        self.assertEqual(self.get("/api/trust")["tapes"][0]["error_percent"], -0.05)
        self.refused("/api/tapes/add", {"name": "B", "certificate_percent": 0.1},
                     "bad-uncertainty", 400)
        self.refused("/api/tapes/add", {"name": "B", "certificate_path": "my word"}, "unknown-key")

    def test_one_stated_can_turn_out_to_be_home_made(self):
        self.two_decks()
        self.post("/api/tapes/add", name="T", certificate_percent=1, certificate_u95_percent=0.2)
        self.post("/api/tapes/edit", tape="T", recorded_on="Attic")
        self.assertIsNone(self.get("/api/trust")["tapes"][0]["error_percent"])


class TheJob(Bench):
    def coached(self, turns=1.0, **more):
        """A session with the scripted deck, ended."""
        self.assertEqual(start(self.server, **more)[0], 200)
        with Stream(self.server) as page:
            page.until("snapshot", accept=lambda s: s["state"] == "reading")
            if turns:
                self.post("/api/turn", turns=turns)
                page.until("snapshot", accept=lambda s: s["state"] == "there")
            self.refused("/api/jobs/keep", {"deck": "Attic"}, "still-running", 400)
            self.post("/api/stop")
            page.until("facts", accept=lambda f: f["phase"] == "ended")

    def test_is_kept_once_and_begins_a_new_epoch(self):
        self.two_decks()
        self.coached(deck="Attic")
        self.assertEqual(self.server.facts()["settings"]["deck"], "Attic")
        kept = self.post("/api/jobs/keep", deck="Attic", asked="slow")
        told = self.get("/api/deck?name=Attic")
        self.assertEqual(told["jobs"][0]["id"], kept["id"])
        self.assertEqual(told["jobs"][0]["asked"], "slow")
        self.assertEqual(len(told["jobs"][0]["nudges"]), 1)
        self.assertEqual(len(told["epochs"]), 2)
        figures = {r["id"]: r["error_percent"] for r in told["readings"]}
        self.assertAlmostEqual(figures[told["jobs"][0]["as_found"]], -3.0, places=6)
        job = self.get("/api/jobs")["jobs"][0]
        self.assertAlmostEqual(job["found"]["error_percent"], -3.0, places=6)
        self.assertEqual((job["deck_name"], job["nudge_count"]), ("Attic", 1))
        for end, schema in (("as_found", "evenspool.reading/1"), ("as_left", "evenspool.session/1")):
            document = self.get(f"/api/reading?id={told['jobs'][0][end]}")
            self.assertEqual(document["schema"], schema)
        self.refused("/api/jobs/keep", {"deck": "Attic"}, "kept-already", 400)
        with Stream(self.server) as page:  # others are told too
            page.until("facts", accept=lambda f: f["kept"] == kept["id"])

    def test_with_another_screw_is_kept_in_its_unit_and_leaves_the_speed(self):
        self.two_decks()
        for adjust, unit in (("azimuth", "us"), ("level", "db"), ("balance", "db")):
            self.coached(adjust=adjust)
            kept = self.post("/api/jobs/keep", deck="Attic", asked=f"{adjust} is off")
            told = self.get("/api/deck?name=Attic")
            self.assertEqual(len(told["epochs"]), 1)
            job = told["jobs"][-1]
            self.assertEqual((job["id"], job["adjust"]), (kept["id"], adjust))
            found, left = ([r for r in told["readings"] if r["id"] == job[end]][0]
                           for end in ("as_found", "as_left"))
            self.assertAlmostEqual(found[f"error_{unit}"], -3.0, places=6)
            self.assertAlmostEqual(left[f"error_{unit}"], 0.0, places=6)
            self.assertIsNone(found["error_percent"])
            self.assertIsNone(left["u95_percent"])
            self.assertAlmostEqual(job["nudges"][0][f"size_{unit}"], 3.0, places=6)
            self.assertIsNone(job["nudges"][0]["size_percent"])
            short = self.get("/api/jobs")["jobs"][-1]
            self.assertEqual(list(short["found"]), [f"error_{unit}", f"u95_{unit}"])
            self.assertAlmostEqual(short["found"][f"error_{unit}"], -3.0, places=6)
            for end, schema in (("as_found", "evenspool.align-reading/1"),
                                ("as_left", "evenspool.align-session/1")):
                document = self.get(f"/api/reading?id={job[end]}")
                self.assertEqual((document["schema"], document["adjust"]), (schema, adjust))
            self.post("/api/clear")

    def test_a_remark_goes_with_its_job(self):
        self.two_decks()
        self.refused("/api/jobs/remark", {"deck": "Attic", "text": "x"}, "unknown")
        self.coached(turns=0)
        job = self.post("/api/jobs/keep", deck="Attic")["id"]
        self.post("/api/jobs/remark", deck="Attic", job=job, text="belt dry")
        self.post("/api/jobs/remark", deck="Attic", text="roller cleaned")
        remarks = self.get("/api/deck?name=Attic")["jobs"][0]["remarks"]
        self.assertEqual([r["text"] for r in remarks], ["belt dry", "roller cleaned"])
        self.refused("/api/jobs/remark", {"deck": "Attic", "text": ""}, "bad-value")
        self.refused("/api/jobs/remark", {"deck": "Attic", "job": job + 9, "text": "x"}, "unknown")

    def test_without_a_turn_the_deck_is_what_it_was(self):
        self.two_decks()
        self.coached(turns=0)
        self.post("/api/jobs/keep", deck="Attic")
        self.assertEqual(len(self.get("/api/deck?name=Attic")["epochs"]), 1)

    def test_what_could_not_be_kept_can_be_kept_again(self):
        self.two_decks()
        self.refused("/api/jobs/keep", {"deck": "Attic"}, "no-session", 400)
        self.coached(turns=0)
        self.refused("/api/jobs/keep", {"deck": "Atic"}, "unknown")
        self.refused("/api/jobs/keep", {"deck": "Attic", "speed": 1}, "unknown-key")
        self.assertEqual(self.get("/api/jobs")["jobs"], [])
        self.post("/api/jobs/keep", deck="Attic")
        self.assertEqual(len(self.get("/api/jobs")["jobs"]), 1)

    def test_comes_with_its_tape(self):
        self.two_decks()
        self.post("/api/tapes/add", name="Tone 1", recorded_on="Attic")
        self.coached(turns=0, tape="Tone 1")
        self.post("/api/jobs/keep", deck="Bench", tape="Tone 1")
        told = self.get("/api/deck?name=Bench")
        tape = self.get("/api/tapes")["tapes"][0]["id"]
        self.assertEqual({r["tape"] for r in told["readings"]}, {tape})


class NobodyWaits(Bench):
    def asked_meanwhile(self):
        """While a deck can't be added because somebody writes: the times of twenty snapshots after a
        turn, whether the deck's answer was still out then, and what it was in the end."""
        other = sqlite3.connect(self.records)
        other.execute("begin immediate")
        said = []
        asker = threading.Thread(target=lambda: said.append(
            self.server.post("/api/decks/add", {"name": "Cellar"})))
        with Stream(self.server) as page:
            page.until("snapshot")
            asker.start()
            time.sleep(0.3)
            self.assertEqual(self.server.post("/api/turn", {"turns": 0.1})[0], 200)
            times = [page.until("snapshot")["time_s"] for _ in range(20)]
            waits = not said
        other.rollback()
        other.close()
        asker.join(PATIENCE_S)
        return times, waits, said[0][0]

    def test_for_records_that_another_program_is_writing(self):
        self.two_decks()
        start(self.server)
        for _ in range(3):  # it waits 5 s: a machine that stands still for so long says nothing
            times, waits, answer = self.asked_meanwhile()
            for earlier, later in zip(times, times[1:]):
                self.assertAlmostEqual(later - earlier, 0.05)
            if waits and answer == 200:
                break
        self.assertTrue(waits)  # alone
        self.assertEqual(answer, 200)

    def test_nor_for_ever(self):
        self.two_decks()
        other = sqlite3.connect(self.records)
        other.execute("begin immediate")
        said = []
        try:
            connection = threading.Thread(target=lambda: said.append(
                self.server.post("/api/decks/add", {"name": "Cellar"})))
            connection.start()
            connection.join(PATIENCE_S)
        finally:
            other.rollback()
            other.close()
        self.assertEqual(said[0][0], 503)
        self.assertEqual(len(self.get("/api/decks")["decks"]), 2)

    def test_the_end_comes_though_somebody_waits(self):
        self.two_decks()
        other = sqlite3.connect(self.records)
        other.execute("begin immediate")
        asker = threading.Thread(target=lambda: self.server.post("/api/decks/add", {"name": "C"}))
        asker.start()
        time.sleep(0.3)
        self.assertEqual(self.server.end(), 0)
        asker.join(PATIENCE_S)
        other.close()


class Strangers(Bench):
    def test_see_no_records(self):
        self.two_decks()
        for path in ("/api/decks", "/api/trust", "/api/deck?name=Attic"):
            self.assertEqual(self.server.ask("GET", path, Host="evil.example")[0], 403)
            self.assertEqual(self.server.ask("GET", path, Origin="http://evil.example")[0], 403)
        for path in ("/api/decks/remove", "/api/anchors/add", "/api/jobs/keep"):
            self.assertEqual(self.server.post(path, {"deck": "Attic"},
                                              Origin="http://evil.example")[0], 403)
            self.assertEqual(self.server.ask("POST", path, "deck=Attic", Content_Type="text/plain")[0],
                             415)
        self.assertEqual(len(self.get("/api/decks")["decks"]), 2)

    def test_from_afar_name_no_files_of_this_computer(self):
        with Server("--lan", "--records", self.records) as server:
            host, key = server.pairing.split("/")[2], server.pairing.rsplit("/", 1)[1]
            if host.startswith("127."):
                self.skipTest("this computer has no network")
            form = {"name": "A", "photo": self.folder}
            connection = http.client.HTTPConnection(host, timeout=PATIENCE_S)
            connection.request("POST", "/api/decks/add", json.dumps(form), {
                "Content-Type": "application/json", "Authorization": f"Bearer {key}"})
            answer = connection.getresponse()
            self.assertEqual((answer.status, json.loads(answer.read())["code"]),
                             (400, "not-from-afar"))
            connection.close()
            form["name"], form["photo"] = "B", ""
            self.assertEqual(server.post("/api/decks/add", form, Authorization=f"Bearer {key}")[0],
                             200)

    def test_need_the_key(self):
        with Server("--lan", "--records", self.records) as server:
            self.assertEqual(server.ask("GET", "/api/decks")[0], 401)
            self.assertEqual(server.post("/api/decks/add", {"name": "A"})[0], 401)
        self.assertFalse(os.path.exists(self.records))


if __name__ == "__main__":
    unittest.main()
