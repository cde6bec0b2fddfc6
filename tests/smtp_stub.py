"""A small SMTP server on loopback with moods: enough of RFC 5321 for smtplib, and four ways of failing."""

import re
import socketserver
import threading
from typing import Any


class _Talk(socketserver.StreamRequestHandler):
    server: Any

    def handle(self) -> None:
        stub = self.server.stub
        if stub.mood == "answers 421":
            self.say(b"421 4.3.2 too busy")
            return
        self.say(b"220 stub")
        while line := self.rfile.readline():
            word = line[:4].upper()
            if word == b"QUIT":
                self.say(b"221 bye")
                return
            if word != b"DATA":
                self.say(b"250 ok")
                continue
            if stub.mood == "hangs up before the text":
                return
            self.say(b"354 go on")
            self.take()
            if stub.mood == "hangs up after the text":
                return
            self.say(b"250 taken")

    def take(self) -> None:
        """Keep the Message-ID of what came."""
        text = b""
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            text += line
        found = re.search(rb"^Message-ID: *(?:\r\n )?(<[^>]+>)", text, re.MULTILINE)
        self.server.stub.taken.append(found[1].decode() if found else "?")

    def say(self, words: bytes) -> None:
        self.wfile.write(words + b"\r\n")


class _Server(socketserver.ThreadingTCPServer):
    allow_reuse_address, daemon_threads = True, True


class Stub:
    """With port 0 one is chosen when it first listens."""

    def __init__(self, port: int = 0) -> None:
        self.port, self.mood, self.taken = port, "refuses connections", list[str]()
        self.server: _Server | None = None

    def turn(self, mood: str) -> None:
        """Change the mood; where connections are refused, nobody listens at all."""
        self.mood = mood
        if mood == "refuses connections" and self.server:
            self.server.shutdown()
            self.server.server_close()
            self.server = None
        elif mood != "refuses connections" and self.server is None:
            self.server = _Server(("127.0.0.1", self.port), _Talk)
            self.port = self.server.server_address[1]
            self.server.stub = self  # type: ignore[attr-defined]
            threading.Thread(target=self.server.serve_forever, args=(0.02,), daemon=True).start()
