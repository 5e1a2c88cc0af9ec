#!/usr/bin/env python3
"""Talks to the server as browsers, phones, strangers and broken clients do: test_requests.py PROGRAM"""
import http.client
import json
import signal
import socket
import subprocess
import sys
import time
import unittest

PROGRAM = sys.argv.pop(1)
OWN = "127.0.0.1"
PATIENCE_S = 60.0  # for what must come: a busy machine may stand still for seconds


class Server:
    """The program, for as long as a test needs it."""

    def __init__(self, *options):
        self.process = subprocess.Popen([PROGRAM, *options], stdin=subprocess.PIPE, text=True,
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        line = self.process.stdout.readline()
        if not line:
            raise AssertionError(self.process.stderr.read())
        told = json.loads(line)
        self.address, self.pairing = told["address"], told["pairing"]
        self.port = int(self.address.split(":")[2].split("/")[0])
        self.host = f"{OWN}:{self.port}"

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.end()

    def end(self):
        """SIGTERM; it must end well, whatever was done to it. Its exit code."""
        if self.process.stdout.closed:
            return self.process.returncode
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        _, said = self.process.communicate(timeout=PATIENCE_S)
        if self.process.returncode != 0:
            raise AssertionError(f"the server ended with {self.process.returncode}: {said}")
        return self.process.returncode

    def ask(self, method, path, body=None, source=None, **headers):
        """(status, headers, text); header names with _ for -."""
        connection = http.client.HTTPConnection(OWN, self.port, timeout=PATIENCE_S,
                                                source_address=source)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if isinstance(body, (dict, list)):
            body = json.dumps(body)
            sent.setdefault("Content-Type", "application/json")
        connection.putrequest(method, path, skip_host="Host" in sent, skip_accept_encoding=True)
        if body is not None:
            body = body.encode() if isinstance(body, str) else body
            sent.setdefault("Content-Length", str(len(body)))
        for name, value in sent.items():
            connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        text = answer.read().decode()
        connection.close()
        return answer.status, answer.headers, text

    def post(self, path, form, **headers):
        return self.ask("POST", path, form, **headers)

    def facts(self):
        return json.loads(self.ask("GET", "/api/bench")[2])

    def raw(self, data, wait=5.0):
        """What comes back for these bytes, until the server closes or wait is over."""
        with socket.create_connection((OWN, self.port), timeout=wait) as line:
            got = b""
            try:
                line.sendall(data)
                while chunk := line.recv(65536):
                    got += chunk
            except (ConnectionError, TimeoutError):
                pass
            return got


class Stream:
    """A page that listens."""

    def __init__(self, server, receive_buffer=None, **headers):
        self.line = socket.socket()
        if receive_buffer:
            self.line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_buffer)
        self.line.settimeout(PATIENCE_S)
        self.line.connect((OWN, server.port))
        extra = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
        self.line.sendall(f"GET /api/stream HTTP/1.1\r\nHost: {server.host}\r\n{extra}\r\n".encode())
        self.pending = b""
        self.head = None

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.line.close()

    def _more(self):
        chunk = self.line.recv(65536)
        if not chunk:
            raise EOFError
        self.pending += chunk

    def header(self):
        while b"\r\n\r\n" not in self.pending:
            self._more()
        self.head, self.pending = self.pending.split(b"\r\n\r\n", 1)
        self.text = b""
        return self.head.decode()

    def _chunk(self):
        while b"\r\n" not in self.pending:
            self._more()
        size, rest = self.pending.split(b"\r\n", 1)
        size = int(size, 16)
        while len(rest) < size + 2:
            self._more()
            size_line, rest = self.pending.split(b"\r\n", 1)
        if size == 0:
            raise EOFError
        self.pending = rest[size + 2:]
        self.text += rest[:size]

    def event(self):
        """(kind, document) of the next event."""
        if self.head is None:
            self.header()
        while b"\n\n" not in self.text:
            self._chunk()
        event, self.text = self.text.split(b"\n\n", 1)
        kind, data = event.decode().split("\n", 1)
        assert kind.startswith("event: ") and data.startswith("data: "), event
        return kind[7:], json.loads(data[6:])

    def until(self, wanted, most_s=PATIENCE_S, accept=lambda document: True):
        end = time.monotonic() + most_s
        while time.monotonic() < end:
            kind, document = self.event()
            if kind == wanted and accept(document):
                return document
        raise AssertionError(f"no {wanted} within {most_s} s")


def start(server, source="rehearse:any", **more):
    return server.post("/api/session", {"source": source, **more})


class ThePage(unittest.TestCase):
    def setUp(self):
        self.server = Server()
        self.addCleanup(self.server.end)

    def test_is_served_and_keeps_to_itself(self):
        for path, kind in (("/", "text/html"), ("/page.js", "text/javascript"),
                           ("/page.css", "text/css"), ("/mark.svg", "image/svg+xml")):
            status, headers, text = self.server.ask("GET", path)
            self.assertEqual(status, 200)
            self.assertTrue(headers["Content-Type"].startswith(kind), path)
            self.assertIn("default-src 'none'", headers["Content-Security-Policy"])
            self.assertNotIn("unsafe", headers["Content-Security-Policy"])
            self.assertEqual(headers["X-Content-Type-Options"], "nosniff")
            self.assertEqual(headers["Cache-Control"], "no-cache")
            self.assertIsNone(headers.get("Access-Control-Allow-Origin"))
            self.assertGreater(len(text), 100)

    def test_is_not_sent_twice(self):
        tag = self.server.ask("GET", "/page.js")[1]["ETag"]
        status, headers, text = self.server.ask("GET", "/page.js", If_None_Match=tag)
        self.assertEqual((status, text), (304, ""))
        self.assertEqual(headers["ETag"], tag)

    def test_says_what_is_not_there(self):
        self.assertEqual(self.server.ask("GET", "/nothing")[0], 404)
        self.assertEqual(self.server.ask("GET", "/../../etc/passwd")[0], 404)
        self.assertEqual(self.server.ask("GET", "/pair/0123")[0], 404)
        status, headers, _ = self.server.ask("GET", "/api/turn")
        self.assertEqual((status, headers["Allow"]), (405, "POST"))
        self.assertEqual(self.server.ask("DELETE", "/")[0], 404)


class Strangers(unittest.TestCase):
    def setUp(self):
        self.server = Server()
        self.addCleanup(self.server.end)

    def test_foreign_hosts_are_refused(self):
        for host in ("evil.example", f"evil.example:{self.server.port}", OWN, ""):
            for path in ("/", "/page.js", "/api/bench", "/api/stream"):
                self.assertEqual(self.server.ask("GET", path, Host=host)[0], 403, (host, path))
        self.assertIn(b" 403 ", self.server.raw(b"GET / HTTP/1.0\r\n\r\n").split(b"\r\n")[0])
        self.assertEqual(self.server.ask("GET", "/", Host=f"localhost:{self.server.port}")[0], 200)

    def test_foreign_origins_are_refused(self):
        for origin in ("http://evil.example", "null", f"https://{self.server.host}",
                       f"http://{OWN}:1"):
            status, _, _ = self.server.post("/api/stop", {}, Origin=origin)
            self.assertEqual(status, 403, origin)
            self.assertEqual(self.server.ask("GET", "/api/stream", Origin=origin)[0], 403, origin)
        self.assertEqual(
            self.server.post("/api/stop", {}, Origin=f"http://{self.server.host}")[0], 200)

    def test_a_foreign_page_may_link_here_but_not_fetch(self):
        cross = {"Sec_Fetch_Site": "cross-site"}
        self.assertEqual(self.server.ask("GET", "/", **cross)[0], 200)
        self.assertEqual(self.server.ask("GET", "/api/bench", **cross)[0], 403)

    def test_a_form_of_a_foreign_page_can_do_nothing(self):
        for kind in ("text/plain", "application/x-www-form-urlencoded", "application/jsonp", ""):
            status, _, _ = self.server.ask("POST", "/api/stop", "{}", Content_Type=kind)
            self.assertEqual(status, 415, kind)


class BrokenRequests(unittest.TestCase):
    def setUp(self):
        self.server = Server("--source", "rehearse:any")
        self.addCleanup(self.server.end)

    def tearDown(self):
        self.assertEqual(self.server.facts()["phase"], "running")

    def refused(self, path, body, status, code):
        got = self.server.ask("POST", path, body, Content_Type="application/json")
        document = json.loads(got[2])
        self.assertEqual((got[0], document["code"]), (status, code), body[:80])
        self.assertEqual(document["schema"], "evenspool.error/1")
        self.assertTrue(document["text"].endswith("."), document["text"])

    def test_malformed_forms_get_a_sentence(self):
        self.refused("/api/turn", "", 422, "not-json")
        self.refused("/api/turn", "{", 422, "not-json")
        self.refused("/api/turn", "[1]", 422, "not-an-object")
        self.refused("/api/turn", '{"turns": "1"}', 422, "wrong-kind")
        self.refused("/api/turn", '{"turns": 0.1, "speed": 1}', 422, "unknown-key")
        self.refused("/api/turn", "{}", 400, "bad-turns")
        self.refused("/api/turn", '{"turns": 99}', 400, "bad-turns")
        self.refused("/api/sound", '{"kind": "drums"}', 400, "bad-sound")
        self.refused("/api/sound", '{"kind": "guide", "level_db": 0}', 400, "bad-level")
        self.refused("/api/sound", '{"kind": "guide", "output": "nowhere"}', 503, "no-such-device")
        self.refused("/api/session", "{}", 400, "no-source")
        self.refused("/api/session", '{"source": "rehearse:x", "channel": 1.5}', 400, "no-channel")
        self.refused("/api/session", '{"source": "rehearse:x", "adjust": "bias"}', 400, "bad-adjust")
        self.refused("/api/session", '{"source": "rehearse:x", "adjust": "azimuth", "target_db": 1}',
                     422, "unknown-key")
        self.refused("/api/session", json.dumps({"source": "x" * 600}), 422, "too-long")
        self.refused("/api/stop", '{"now": true}', 422, "unknown-key")

    def test_too_much_is_refused(self):
        self.refused("/api/turn", '{"a": "' + "x" * 20000 + '"}', 413, "too-large")
        head = (f"POST /api/turn HTTP/1.1\r\nHost: {self.server.host}\r\n"
                "Content-Type: application/json\r\n")
        huge = self.server.raw(f"{head}Content-Length: 99999999999\r\n\r\n".encode())
        self.assertIn(b" 413 ", huge.split(b"\r\n")[0])

    def test_a_body_without_end_is_cut_off(self):
        head = (f"POST /api/turn HTTP/1.1\r\nHost: {self.server.host}\r\n"
                "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n").encode()
        self.assertNotIn(b" 200 ", self.server.raw(head + b"4000\r\n" + b" " * 0x4000 + b"\r\n"
                                                   + b"4000\r\n" + b" " * 0x4000 + b"\r\n"))

    def test_what_is_not_http_is_refused(self):
        for line in (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc", b"GET\r\n\r\n", b"\0" * 100,
                     b"GET / HTTP/9.9\r\n\r\n", b"nonsense nonsense nonsense\r\n\r\n"):
            got = self.server.raw(line, wait=1.0)
            self.assertNotIn(b" 200 ", got.split(b"\r\n")[0], line)

    def test_huge_headers_are_refused(self):
        for request in (b"GET /" + b"a" * 100000 + b" HTTP/1.1\r\n",
                        b"GET / HTTP/1.1\r\nX: " + b"a" * 100000 + b"\r\n",
                        b"GET / HTTP/1.1\r\n" + b"X: a\r\n" * 20000):
            got = self.server.raw(request + f"Host: {self.server.host}\r\n\r\n".encode())
            self.assertNotIn(b" 200 ", got.split(b"\r\n")[0])


class TheSession(unittest.TestCase):
    def setUp(self):
        self.server = Server()
        self.addCleanup(self.server.end)

    def test_starts_runs_stops_and_is_put_away(self):
        self.assertEqual(self.server.facts()["phase"], "none")
        with Stream(self.server) as page:
            head = page.header()
            self.assertIn("text/event-stream", head)
            self.assertIn("no-store", head)
            self.assertEqual(page.until("facts")["session"], 0)
            self.assertEqual(start(self.server, tape_error_percent=0.4, tone_hz=None)[0], 200)
            facts = page.until("facts", accept=lambda f: f["phase"] == "running")
            self.assertEqual(facts["session"], 1)
            self.assertEqual(facts["settings"]["tape_error_percent"], 0.4)
            self.assertIsNone(facts["settings"]["tone_hz"])
            snapshot = page.until("snapshot", accept=lambda s: s["state"] == "reading")
            self.assertEqual(snapshot["schema"], "evenspool.trim/1")
            self.assertAlmostEqual(snapshot["error_percent"], -3.0)
            self.assertEqual(self.server.post("/api/stop", {})[0], 200)
            page.until("facts", accept=lambda f: f["phase"] == "ended")
            record = json.loads(self.server.ask("GET", "/api/record")[2])
            self.assertEqual(record["schema"], "evenspool.session/1")
            self.assertEqual(self.server.post("/api/clear", {})[0], 200)
            page.until("facts", accept=lambda f: f["phase"] == "none")
        self.assertEqual(self.server.ask("GET", "/api/record")[0], 400)

    def test_snapshots_come_twenty_a_second_and_none_is_missing(self):
        start(self.server)
        with Stream(self.server) as page:
            page.until("snapshot")
            times = [page.until("snapshot")["time_s"] for _ in range(40)]
        for before, after in zip(times, times[1:]):
            self.assertAlmostEqual(after - before, 0.05)

    def test_an_input_that_is_not_there_is_told(self):
        status, _, text = start(self.server, "device:nowhere")
        self.assertEqual(status, 503)
        self.assertIn("no input of that name", json.loads(text)["text"])
        self.assertEqual(self.server.facts()["phase"], "none")
        self.assertEqual(start(self.server)[0], 200)

    def test_an_input_that_vanishes_is_waited_for(self):
        start(self.server, "device:gone")
        with Stream(self.server) as page:
            gone = page.until("facts", accept=lambda f: f["phase"] == "waiting")
            self.assertIn("plug it in", gone["live"]["sentence"])
            back = page.until("facts", accept=lambda f: f["phase"] == "running")
            self.assertIsNone(back["live"]["sentence"])

    def test_the_end_of_the_source_is_told(self):
        start(self.server, "file:short")
        with Stream(self.server) as page:
            page.until("facts", accept=lambda f: f["phase"] == "ended")
        self.assertEqual(json.loads(self.server.ask("GET", "/api/record")[2])["nudge_count"], 0)

    def test_the_trimmer_turns(self):
        self.assertEqual(self.server.post("/api/turn", {"turns": 0.1})[0], 400)
        start(self.server)
        with Stream(self.server) as page:
            page.until("snapshot", accept=lambda s: s["state"] == "reading")
            self.assertEqual(self.server.post("/api/turn", {"turns": 1.0})[0], 200)
            page.until("facts", accept=lambda f: f["live"]["trimmer_turns"] == 1.0)
            snapshot = page.until("snapshot", accept=lambda s: s["state"] == "there")
        self.assertAlmostEqual(snapshot["nudges"][0]["size_percent"], 3.0)
        start(self.server, "file:short")
        self.assertEqual(self.server.post("/api/turn", {"turns": 0.1})[0], 400)

    def test_the_sound_is_off_until_chosen(self):
        start(self.server)
        self.assertEqual(self.server.facts()["live"]["sound"], "none")
        self.assertEqual(self.server.post("/api/sound", {"kind": "guide", "level_db": -30})[0], 200)
        live = self.server.facts()["live"]
        self.assertEqual((live["sound"], live["sound_level_db"]), ("guide", -30))

    def test_sources_are_listed(self):
        sources = json.loads(self.server.ask("GET", "/api/sources")[2])
        self.assertEqual(sources["inputs"][0], {"name": "Deck left of the bench",
                                                "about": "the usual one, level: good"})
        self.assertEqual(sources["inputs"][1]["about"], "not listened to")
        self.assertGreater(len(sources["rehearsals"]), 0)
        self.assertTrue(all(r["about"] for r in sources["rehearsals"]))
        self.assertEqual(sources["classes"], ["cassette", "microcassette", "reel-4.76", "reel-9.5",
                                              "reel-19", "reel-38", "reel-76"])  # docs of --class

    def test_a_new_session_replaces_the_old_one(self):
        start(self.server)
        with Stream(self.server) as page:
            page.until("facts", accept=lambda f: f["session"] == 1)
            for number in range(2, 6):
                self.assertEqual(start(self.server)[0], 200)
                page.until("facts", accept=lambda f, n=number: f["session"] == n)

    def test_without_lan_there_is_no_pairing(self):
        pairing = json.loads(self.server.ask("GET", "/api/pairing")[2])
        self.assertEqual(pairing, {"schema": "evenspool.pairing/1", "lan": False})
        self.assertEqual(self.server.pairing, "")


class ManyPages(unittest.TestCase):
    def test_twenty_pages_and_one_that_never_reads(self):
        with Server("--source", "rehearse:any") as server:
            stuck = Stream(server, receive_buffer=2048)
            pages = [Stream(server) for _ in range(20)]
            got = [0] * 20
            end = time.monotonic() + PATIENCE_S
            while min(got) <= 40 and time.monotonic() < end:
                for i, page in enumerate(pages):
                    kind, _ = page.event()
                    self.assertNotEqual(kind, "lost")
                    got[i] += kind == "snapshot"
            self.assertGreater(min(got), 40)
            self.assertEqual(server.facts()["missed"], 0)  # the session's follower kept up
            for page in pages + [stuck]:
                page.line.close()
            self.assertEqual(server.end(), 0)

    def test_a_slow_page_is_told_how_many_it_missed(self):
        with Server("--source", "device:flood") as server:
            with Stream(server, receive_buffer=2048) as slow:
                slow.until("snapshot")
                time.sleep(2.0)  # hundreds of snapshots: more than are kept for it
                kind, document = slow.event()
                while kind != "lost":
                    if kind == "snapshot":
                        before = document
                    kind, document = slow.event()
                after = slow.until("snapshot")
                skipped = round((after["time_s"] - before["time_s"]) / 0.05) - 1
                others = 16  # facts and beats may be among the missed
                unheard = server.facts()["missed"]  # by the server itself, on a busy machine
                self.assertGreater(skipped, 0)
                self.assertLessEqual(document["events"], skipped + others)
                self.assertGreaterEqual(document["events"], skipped - unheard - others)
            self.assertEqual(server.facts()["phase"], "running")

    def test_there_is_an_end_to_pages(self):
        with Server() as server:
            pages = [Stream(server) for _ in range(40)]
            for page in pages:
                page.until("facts")
            status, _, text = server.ask("GET", "/api/stream")
            self.assertEqual((status, json.loads(text)["code"]), (503, "too-many-pages"))
            self.assertEqual(server.ask("GET", "/")[0], 200)
            for page in pages:
                page.line.close()

    def test_ends_cleanly_with_pages_open(self):
        with Server("--source", "rehearse:any") as server:
            pages = [Stream(server) for _ in range(20)]
            for page in pages:
                page.until("snapshot")
            began = time.monotonic()
            self.assertEqual(server.end(), 0)
            # a server that waited for its pages would wait for ever
            self.assertLess(time.monotonic() - began, PATIENCE_S / 2)
            with self.assertRaises((EOFError, ConnectionError)):
                while True:
                    pages[0].event()
            for page in pages:
                page.line.close()

    def test_pages_that_come_and_go_do_no_harm(self):
        with Server("--source", "rehearse:any") as server:
            for _ in range(60):
                with Stream(server) as page:
                    page.header()
            self.assertEqual(server.facts()["phase"], "running")
            self.assertEqual(server.end(), 0)


class TheStart(unittest.TestCase):
    def fails(self, *options):
        done = subprocess.run([PROGRAM, *options], stdin=subprocess.DEVNULL, capture_output=True,
                              text=True, timeout=PATIENCE_S)
        return done.returncode, done.stderr

    def test_a_taken_port_is_told(self):
        with Server() as server:
            code, said = self.fails("--port", str(server.port))
            self.assertEqual(code, 4)
            self.assertIn("port-taken", said)
            self.assertIn(f"Port {server.port} is taken", said)

    def test_a_port_that_was_just_left_can_be_had_again(self):
        with Server() as server, Stream(server) as page:
            page.until("facts")
            port = server.port
            server.end()
        with Server("--port", str(port)) as again:
            self.assertEqual(again.port, port)

    def test_a_port_that_cannot_be_is_told(self):
        for port in ("-1", "65536"):
            code, said = self.fails("--port", port)
            self.assertEqual(code, 2)
            self.assertIn("bad-port", said)

    def test_a_source_that_cannot_be_opened_is_told(self):
        code, said = self.fails("--source", "device:nowhere")
        self.assertEqual(code, 4)
        self.assertIn("There is no input of that name", said)

    def test_serves_this_computer_only(self):
        with Server() as server:
            with self.assertRaises(OSError):
                socket.create_connection(("127.0.0.2", server.port), timeout=2).close()


class Pairing(unittest.TestCase):
    def setUp(self):
        self.server = Server("--lan")
        self.addCleanup(self.server.end)
        self.key = self.server.address.rsplit("/", 1)[1]

    def test_nothing_is_served_without_the_key(self):
        self.assertEqual(len(self.key), 32)
        for path in ("/", "/page.js", "/api/bench", "/api/stream", "/api/pairing", "/nothing"):
            status, headers, text = self.server.ask("GET", path)
            self.assertEqual(status, 401, path)
            self.assertNotIn(self.key, text + str(headers))
        self.assertEqual(self.server.post("/api/stop", {})[0], 401)

    def test_the_link_gives_a_cookie_that_opens(self):
        status, headers, _ = self.server.ask("GET", f"/pair/{self.key}")
        self.assertEqual((status, headers["Location"]), (303, "/"))
        cookie = headers["Set-Cookie"]
        self.assertIn("HttpOnly", cookie)
        self.assertIn("SameSite=Lax", cookie)
        pair = cookie.split(";")[0]
        status, _, text = self.server.ask("GET", "/", Cookie=pair)
        self.assertEqual(status, 200)
        self.assertNotIn(self.key, text)
        self.assertEqual(self.server.post("/api/session", {"source": "rehearse:any"}, Cookie=pair)[0],
                         200)
        with Stream(self.server, Cookie=pair) as page:
            page.until("snapshot")

    def test_programs_show_it_in_a_header(self):
        bearer = {"Authorization": f"Bearer {self.key}"}
        self.assertEqual(self.server.ask("GET", "/api/bench", **bearer)[0], 200)
        pairing = json.loads(self.server.ask("GET", "/api/pairing", **bearer)[2])
        self.assertTrue(pairing["lan"])
        self.assertEqual(pairing["address"], self.server.pairing)
        self.assertTrue(pairing["picture"].startswith("<svg"))

    def test_the_key_does_not_excuse_a_foreign_page(self):
        bearer = {"Authorization": f"Bearer {self.key}"}
        self.assertEqual(self.server.ask("GET", "/", Host="evil.example", **bearer)[0], 403)
        self.assertEqual(self.server.post("/api/stop", {}, Origin="http://evil.example",
                                          **bearer)[0], 403)

    def test_guessing_is_stopped_and_hinders_nobody_else(self):
        wrong = {"Cookie": "evenspool_key=" + "0" * 32}
        right = {"Cookie": f"evenspool_key={self.key}"}
        seen = [self.server.ask("GET", "/", **wrong)[0] for _ in range(12)]
        self.assertEqual(seen[:10], [401] * 10)
        self.assertEqual(seen[11], 429)
        status, headers, _ = self.server.ask("GET", "/", **right)
        self.assertEqual(status, 429)
        self.assertGreater(int(headers["Retry-After"]), 0)
        other = ("127.0.0.2", 0)
        self.assertEqual(self.server.ask("GET", "/", source=other, **right)[0], 200)

    def test_the_key_is_new_each_time(self):
        with Server("--lan") as other:
            self.assertNotEqual(other.address.rsplit("/", 1)[1], self.key)


if __name__ == "__main__":
    unittest.main()
