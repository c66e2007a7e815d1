"""A mail server that takes every mail (RFC 5321, without extensions) and gives those of an address back.

Must not know: what a mail of ours says.
"""

import email
import email.policy
import socketserver
import threading

SECONDS_AT_MOST = 240


class Dialogue(socketserver.StreamRequestHandler):
    def say(self, line):
        self.wfile.write(line.encode() + b"\r\n")

    def handle(self):
        self.say("220 postbox.example")
        for line in self.rfile:
            verb = line.split(b":")[0].split()[0].upper() if line.strip() else b""
            if verb == b"QUIT":
                self.say("221 bye")
                return
            if verb == b"DATA":
                self.say("354 go on")
                self.server.keep(b"".join(iter(self.rfile.readline, b".\r\n")))
            self.say("250 postbox.example")


class Postbox(socketserver.ThreadingTCPServer):
    """Listens on a port of its own until it is closed."""

    daemon_threads = True

    def __init__(self):
        super().__init__(("127.0.0.1", 0), Dialogue)
        self.port = self.server_address[1]
        self.mails = []
        self.changed = threading.Condition()
        threading.Thread(target=self.serve_forever, daemon=True).start()

    def keep(self, octets):
        # RFC 5321, 4.5.2: a line that begins with a dot was given another.
        plain = octets.replace(b"\r\n..", b"\r\n.")
        with self.changed:
            self.mails.append(email.message_from_bytes(plain, policy=email.policy.default))
            self.changed.notify_all()

    def wait(self, number):
        """The mail of this number, from one."""
        with self.changed:
            if not self.changed.wait_for(lambda: len(self.mails) >= number, SECONDS_AT_MOST):
                raise AssertionError(f"{len(self.mails)} mails came, not {number}")
            return self.mails[number - 1]

    def close(self):
        self.shutdown()
        self.server_close()
