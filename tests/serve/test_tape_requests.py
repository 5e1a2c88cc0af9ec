#!/usr/bin/env python3
"""The test tape over the server's addresses: test_tape_requests.py SERVER EVENSPOOL. The tape is what `tape
write` makes, read from a file in real time; what is right is its plan."""
import http.client
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
import unittest
from datetime import datetime, timezone

EVENSPOOL = os.path.abspath(sys.argv.pop(2))
sys.argv[1] = os.path.abspath(sys.argv[1])
from test_requests import PATIENCE_S, Server, Stream  # pylint: disable=wrong-import-position

PROGRAMME = {"schema": "evenspool.programme/1", "name": "brief", "about": "For tests",
             "transport": "cassette", "equalisation": "120", "reference_nwb_m": 250,
             "marker_db": -10, "broad_low_hz": 200, "broad_high_hz": 12500, "side_most_s": 300,
             "sides": [{"sections": [
                 {"kind": "leader", "name": "leader", "seconds": 1},
                 {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 2},
                 {"kind": "silence", "name": "silence", "seconds": 2},
                 {"kind": "end", "name": "end"}]}]}
# With a tone long enough to have a speed of its own.
TONED = dict(PROGRAMME, name="toned", sides=[{"sections": PROGRAMME["sides"][0]["sections"][:2] + [
    {"kind": "speed", "name": "speed", "hz": 3150, "level_db": -10, "seconds": 5},
    {"kind": "end", "name": "end"}]}])


def moment(text):
    """Seconds of the calendar, from "2026-05-03T14:05:00Z"."""
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=timezone.utc).timestamp()


class Tape(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        cls.addClassCleanup(folder.cleanup)
        cls.folder = folder.name
        cls.file = cls.written(PROGRAMME)
        cls.toned = cls.written(TONED)
        cls.records = cls.path("records.db")
        for words in (["deck", "add", "Attic", "--class", "reel-9.5"], ["deck", "add", "Cellar"],
                      ["trust", "tape", "B1", "--stated", "0.4137", "--u95", "0.15",
                       "--programme", "toned"],
                      ["trust", "tape", "Loose", "--recorded-on", "Cellar"]):
            cls.evenspool(*words, "--records", cls.records)

    @classmethod
    def evenspool(cls, *words):
        done = subprocess.run([EVENSPOOL, *words], check=True, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True)
        return done.stdout

    @classmethod
    def written(cls, programme):
        """The form that has this programme read from a file."""
        plan, side = cls.path(programme["name"] + ".json"), cls.path(programme["name"] + ".wav")
        with open(plan, "w", encoding="utf-8") as file:
            json.dump(programme, file)
        cls.evenspool("tape", "write", "-p", plan, "-o", side)
        return {"source": "file:" + side, "programme": plan}

    @classmethod
    def path(cls, name):
        return os.path.join(cls.folder, name)

    def ask(self, server, path, form=None, method="POST"):
        """Status, and what came as a document."""
        body = form if form is not None else {} if method == "POST" else None
        status, _, text = server.ask(method, path, body)
        return status, json.loads(text)

    def refused(self, server, form, code, path="/api/tape/start"):
        status, document = self.ask(server, path, form)
        self.assertGreaterEqual(status, 400)
        self.assertEqual((document["schema"], document["code"]), ("evenspool.error/1", code))
        self.assertGreater(len(document["text"]), 15)

    def result(self, server, seconds=2 * PATIENCE_S):
        """What came of it, once it is over."""
        stop = time.monotonic() + seconds
        while time.monotonic() < stop:
            status, document = self.ask(server, "/api/tape/result", method="GET")
            if status == 200:
                return document
            self.assertEqual(document["code"], "still-running")
            time.sleep(0.2)
        self.fail("it does not end")

    def test_a_tape_from_its_start_to_its_end(self):
        with Server() as server:
            status, document = self.ask(server, "/api/tape/result", method="GET")
            self.assertEqual(document["code"], "no-session")
            with Stream(server) as page:
                page.until("facts")
                self.assertEqual(self.ask(server, "/api/tape/start", dict(
                    self.file, tape_error_percent=0.4, level_dbfs=-14.0))[0], 200)
                self.assertEqual(self.ask(server, "/api/tape/result", method="GET")[1]["code"],
                                 "still-running")
                first = page.until("tape", accept=lambda d: d["phase"] == "running")
                self.assertEqual((first["schema"], first["phase"], first["tape"], first["side"]),
                                 ("evenspool.tape-live/1", "running", None, None))
                heard = page.until("tape", accept=lambda d: d.get("side") and
                                   d["sections"][1]["state"] == "heard")
            self.assertEqual((heard["programme"], heard["side"]), ("brief", "a"))
            self.assertEqual([s["name"] for s in heard["sections"]],
                             ["leader", "level", "silence", "end"])
            self.assertEqual(heard["sections"][1]["figures"],
                             "level -12.00 and -12.00 dB full scale")
            self.assertEqual(heard["sections"][2]["state"], "now")
            self.assertAlmostEqual(heard["left_s"], 13.624 - heard["time_s"], delta=0.3)
            self.assertAlmostEqual(heard["error_percent"], 0.4, delta=0.05)
            self.refused(server, {"source": "rehearse:slow-but-steady"}, "tape-listens",
                         "/api/session")
            document = self.result(server)
            self.assertEqual(document["schema"], "evenspool.tape/1")
            self.assertAlmostEqual(document["channels"][0]["level_db"], -12.0, delta=0.01)
            self.assertAlmostEqual(document["channels"][1]["level_error_db"], 2.0, delta=0.01)
            self.assertTrue(all(s["found"] for s in document["sections"] if s["kind"] != "leader"))
            self.assertEqual(self.ask(server, "/api/tape/clear")[0], 200)
            self.assertEqual(self.ask(server, "/api/tape/result", method="GET")[1]["code"],
                             "no-session")

    def test_stopped_it_is_measured_as_far_as_it_came(self):
        with Server() as server:
            self.ask(server, "/api/tape/start", self.file)
            with Stream(server) as page:
                page.until("tape", accept=lambda d: d.get("side") and
                           d["sections"][1]["state"] == "heard")
            self.assertEqual(self.ask(server, "/api/tape/stop")[0], 200)
            document = self.result(server)
            self.assertAlmostEqual(document["channels"][0]["level_db"], -12.0, delta=0.01)
            self.assertIn("sections-missing", [w["code"] for w in document["warnings"]])
            self.assertEqual(self.ask(server, "/api/tape/stop")[0], 200)

    def test_one_thing_listens_at_a_time(self):
        with Server() as server:
            self.assertEqual(self.ask(server, "/api/session",
                                      {"source": "rehearse:slow-but-steady"})[0], 200)
            self.refused(server, self.file, "coach-listens")
            self.ask(server, "/api/stop")
            self.assertEqual(self.ask(server, "/api/tape/start", self.file)[0], 200)

    def history(self, server, deck):
        return self.ask(server, "/api/deck?name=" + deck, method="GET")[1]["readings"]

    def test_what_is_kept_is_what_the_command_keeps(self):
        """Of the same side: the document in every figure, those of the lists, deck and tape."""
        shutil.copy(self.records, self.path("command.db"))
        shutil.copy(self.records, self.path("page.db"))
        self.evenspool("tape", "read", "--source", self.toned["source"], "--unpaced", "--programme",
                       self.toned["programme"], "--deck", "Attic", "--tape", "B1", "--records",
                       self.path("command.db"))
        with Server("--records", self.path("command.db")) as server:
            by_command, = self.history(server, "Attic")
            wanted = self.ask(server, f"/api/reading?id={by_command['id']}", method="GET")[1]
        with Server("--records", self.path("page.db")) as server:
            self.refused(server, {"deck": "Attic"}, "no-session", "/api/tape/keep")
            began = time.time()
            self.assertEqual(self.ask(server, "/api/tape/start", dict(
                self.toned, deck="Attic", tape="B1"))[0], 200)
            self.refused(server, {"deck": "Attic"}, "still-running", "/api/tape/keep")
            result = self.result(server)
            self.assertEqual(result["speed"]["tape_error_percent"], 0.4137)
            with Stream(server) as page:
                page.until("tape", accept=lambda d: d["phase"] == "ended")
            ended = time.time()
            self.refused(server, {"deck": "Nobody"}, "unknown", "/api/tape/keep")
            self.refused(server, {"deck": ""}, "no-deck", "/api/tape/keep")
            self.refused(server, {"tape": "B1"}, "unknown-key", "/api/tape/keep")
            self.assertEqual(self.history(server, "Attic"), [])
            time.sleep(1.1)  # kept later, it was still heard then
            status, kept = self.ask(server, "/api/tape/keep")
            self.assertEqual((status, kept["schema"], kept["deck"]), (200, "evenspool.kept/1", "Attic"))
            with Stream(server) as page:
                told = page.until("tape", accept=lambda d: d["kept"])
                self.assertEqual((told["deck"], told["tape"]), ("Attic", "B1"))
                self.assertEqual(told["kept"], {"id": kept["id"], "deck": "Attic"})
            self.refused(server, {"deck": "Cellar"}, "kept-already", "/api/tape/keep")
            by_page, = self.history(server, "Attic")
            document = self.ask(server, f"/api/reading?id={kept['id']}", method="GET")[1]
            self.assertEqual(self.history(server, "Cellar"), [])
        for read in document, wanted:  # how soon after the end marker it was stopped is no figure
            self.assertGreater(read["capture"].pop("duration_s"), 16)
        self.assertEqual(document, wanted)
        self.assertTrue(began - 1 < moment(by_page["taken_at"]) <= ended)
        for reading in by_command, by_page:
            del reading["taken_at"]
        self.assertEqual(by_page, by_command)
        self.assertAlmostEqual(by_page["error_percent"], 0.4137, delta=0.002)
        self.assertAlmostEqual(by_page["u95_percent"], 0.15, delta=0.01)

    def test_a_figure_by_hand_goes_before_the_certificate(self):
        with Server("--records", self.records) as server:
            for form, error in (({"tape": "B1"}, 0.4137), ({"tape": "Loose"}, 0.0),
                                ({"tape": "B1", "tape_error_percent": -0.2}, -0.2)):
                self.assertEqual(self.ask(server, "/api/tape/start", dict(self.toned, **form))[0], 200)
                with Stream(server) as page:
                    heard = page.until("tape", accept=lambda d: d.get("error_percent") is not None)
                self.assertAlmostEqual(heard["error_percent"], error, delta=0.05)
                self.ask(server, "/api/tape/clear")
            for form in {"deck": "Nobody"}, {"tape": "Nothing"}:
                self.refused(server, dict(self.toned, **form), "unknown")
        with Server() as server:
            self.refused(server, dict(self.toned, deck="Attic"), "no-records")

    def test_nothing_heard_is_not_kept(self):
        shutil.copy(self.records, self.path("nothing.db"))
        with Server("--records", self.path("nothing.db")) as server:
            self.ask(server, "/api/tape/start", dict(self.file, deck="Attic"))
            self.ask(server, "/api/tape/stop")
            status, document = self.ask(server, "/api/tape/keep")
            self.assertGreaterEqual(status, 400)
            self.assertIn(document["code"], ("empty", "silence", "no-markers", "nothing-heard"))
            self.assertEqual(self.history(server, "Attic"), [])

    def test_wrong_wishes(self):
        with Server() as server:
            for form, code in (({}, "no-source"),
                               ({"source": "elsewhere"}, "bad-source"),
                               ({"source": "rehearse:none"}, "no-scenario"),
                               ({"source": "file:" + self.path("none.wav")}, "missing"),
                               (dict(self.file, programme=self.path("none.json")), "no-programme"),
                               (dict(self.file, tape_error_percent=70), "bad-tape-error"),
                               (dict(self.file, tape_u95_percent=-1), "bad-tape-error"),
                               (dict(self.file, clock_ppm=1e6), "bad-clock"),
                               (dict(self.file, level_dbfs=40), "bad-level"),
                               (dict(self.file, unpaced=True), "unknown-key"),
                               (dict(self.file, recorded_here="yes"), "wrong-kind")):
                self.refused(server, form, code)
            self.refused(server, {"now": 1}, "unknown-key", "/api/tape/stop")
            self.refused(server, {"now": 1}, "unknown-key", "/api/tape/clear")
            self.assertEqual(server.ask("GET", "/api/tape/start")[0], 405)

    def test_files_are_named_at_the_computer(self):
        with Server("--lan") as server:
            host, key = server.pairing.split("//")[1].split(":")[0], server.pairing.split("/")[-1]
            if host.startswith("127."):
                self.skipTest("this computer is in no network")
            for form in (self.file, {"source": "device:", "record": "x.wav"},
                         {"source": "device:", "programme": self.path("brief.json")}):
                connection = http.client.HTTPConnection(host, server.port, timeout=PATIENCE_S)
                connection.request("POST", "/api/tape/start", json.dumps(form),
                                   {"Content-Type": "application/json",
                                    "Authorization": f"Bearer {key}"})
                answer = json.loads(connection.getresponse().read())
                connection.close()
                self.assertEqual(answer["code"], "not-from-afar")


if __name__ == "__main__":
    unittest.main()
