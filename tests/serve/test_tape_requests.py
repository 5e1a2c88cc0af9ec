#!/usr/bin/env python3
"""The test tape over the server's addresses: test_tape_requests.py SERVER EVENSPOOL. The tape is what `tape
write` makes, read from a file in real time; what is right is its plan."""
import http.client
import json
import os
import subprocess
import sys
import tempfile
import time
import unittest

EVENSPOOL = os.path.abspath(sys.argv.pop(2))
sys.argv[1] = os.path.abspath(sys.argv[1])
from test_requests import Server, Stream  # pylint: disable=wrong-import-position

PROGRAMME = {"schema": "evenspool.programme/1", "name": "brief", "about": "For tests",
             "transport": "cassette", "equalisation": "120", "reference_nwb_m": 250,
             "marker_db": -10, "broad_low_hz": 200, "broad_high_hz": 12500, "side_most_s": 300,
             "sides": [{"sections": [
                 {"kind": "leader", "name": "leader", "seconds": 1},
                 {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 2},
                 {"kind": "silence", "name": "silence", "seconds": 2},
                 {"kind": "end", "name": "end"}]}]}


class Tape(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        cls.addClassCleanup(folder.cleanup)
        cls.folder = folder.name
        with open(cls.path("brief.json"), "w", encoding="utf-8") as file:
            json.dump(PROGRAMME, file)
        subprocess.run([EVENSPOOL, "tape", "write", "-p", cls.path("brief.json"), "-o",
                        cls.path("side.wav")], check=True, stdout=subprocess.DEVNULL)
        cls.file = {"source": "file:" + cls.path("side.wav"), "programme": cls.path("brief.json")}

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

    def result(self, server, seconds=40):
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
            self.assertEqual(self.ask(server, "/api/tape/start", dict(
                self.file, tape="T1", tape_error_percent=0.4, level_dbfs=-14.0))[0], 200)
            self.assertEqual(self.ask(server, "/api/tape/result", method="GET")[1]["code"],
                             "still-running")
            with Stream(server) as page:
                first = page.until("tape")
                self.assertEqual((first["schema"], first["phase"], first["tape"], first["side"]),
                                 ("evenspool.tape-live/1", "running", "T1", None))
                heard = page.until("tape", 20, lambda d: d.get("side") and
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
            time.sleep(7.5)  # the level's body ends at 5.6 s
            self.assertEqual(self.ask(server, "/api/tape/stop")[0], 200)
            document = self.result(server, 5)
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
                connection = http.client.HTTPConnection(host, server.port, timeout=10)
                connection.request("POST", "/api/tape/start", json.dumps(form),
                                   {"Content-Type": "application/json",
                                    "Authorization": f"Bearer {key}"})
                answer = json.loads(connection.getresponse().read())
                connection.close()
                self.assertEqual(answer["code"], "not-from-afar")


if __name__ == "__main__":
    unittest.main()
