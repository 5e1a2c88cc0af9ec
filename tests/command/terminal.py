"""A terminal for tests: runs a program on a pty and keeps what stands on its screen."""
import fcntl
import os
import pty
import re
import select
import struct
import termios
import time

SEQUENCE = re.compile(r"\x1b\[([?0-9;]*)([A-Za-z])")


class Terminal:
    def __init__(self, words, env, lines=24, columns=80):
        self.lines, self.columns = lines, columns
        self.clear()
        self.raw = b""          # all that was ever written
        self.on_screen = False  # the other screen is shown
        self.kept = []          # what stood there when it was left
        self.widest = 0
        self.code = None
        self.pid, self.end = pty.fork()
        if self.pid == 0:
            os.execve(words[0], words, env)
        fcntl.ioctl(self.end, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
        self.rest = ""

    def clear(self):
        self.cells = [[" "] * (self.columns + 40) for _ in range(self.lines)]
        self.row = self.column = 0

    def text(self):
        return ["".join(line).rstrip() for line in self.cells]

    def settings(self):
        return termios.tcgetattr(self.end)

    def type(self, keys):
        os.write(self.end, keys)

    def run(self, seconds, until=None):
        """Takes what comes for that long, or until until() is true. False: the time is over."""
        stop = time.monotonic() + seconds
        while time.monotonic() < stop:
            if until and until():
                return True
            if not select.select([self.end], [], [], 0.05)[0]:
                continue
            try:
                data = os.read(self.end, 65536)
            except OSError:
                data = b""
            if not data:
                return bool(until and until())
            self.raw += data
            self.take(data.decode("utf-8", "replace"))
        return not until

    def take(self, new):
        text, at = self.rest + new, 0
        while at < len(text):
            if text[at] == "\x1b":
                found = SEQUENCE.match(text, at)
                if not found: # to be continued; or cut off by a signal, and a new one begins
                    anew = text.find("\x1b", at + 1)
                    if anew < 0:
                        break
                    at = anew
                    continue
                self.obey(*found.groups())
                at = found.end()
                continue
            self.put(text[at])
            at += 1
        self.rest = text[at:]

    def obey(self, numbers, letter):
        if letter == "H":
            row, column = (numbers or "1;1").split(";")
            self.row, self.column = int(row) - 1, int(column) - 1
        elif letter == "K":
            self.cells[self.row][self.column:] = [" "] * (self.columns + 40 - self.column)
        elif letter == "J":
            self.clear()
        elif numbers == "?1049":
            if letter == "l":
                self.kept = self.text()
                self.clear()
            self.on_screen = letter == "h"

    def put(self, character):
        if character == "\r":
            self.column = 0
        elif character == "\n":
            if self.row == self.lines - 1:
                self.cells = self.cells[1:] + [[" "] * (self.columns + 40)]
            else:
                self.row += 1
        elif self.column < self.columns + 40:
            self.cells[self.row][self.column] = character
            self.column += 1
            if self.on_screen and character != " ":
                self.widest = max(self.widest, self.column)

    def wait(self, seconds=60):
        """The program's exit code; it must end by itself."""
        stop = time.monotonic() + seconds
        while time.monotonic() < stop:
            self.run(0.05)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.run(seconds)  # to the end of what it said
                self.code = os.waitstatus_to_exitcode(status)
                return self.code
        raise TimeoutError("it does not end")

    def close(self):
        if self.code is None:
            os.kill(self.pid, 9)
            os.waitpid(self.pid, 0)
        os.close(self.end)
