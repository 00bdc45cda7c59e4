"""A network between browser and server that can be cut, lose answers, and fail now and then."""

import http.client
import random
import threading
from contextlib import closing
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

HOP_BY_HOP_HEADERS = {"connection", "keep-alive", "transfer-encoding", "content-length"}


class Network:
    """Forwards to a port of this machine. `lose`: answers to batches of events still to be lost on the way back.

    `fail` is the chance of each event of a batch to have its batch lost, one half before the server has it and
    one half on the way back.
    """

    def __init__(self, target: int) -> None:
        self.target, self.on, self.lose, self.fail = target, True, 0, 0.0
        self.batches, self.lost, self.random = 0, 0, random.Random(3)
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                outer.forward(self)

            do_POST = do_GET

            def log_message(self, *args: Any) -> None:
                pass

        class Server(ThreadingHTTPServer):
            def handle_error(self, *args: Any) -> None:
                """The browser went away: it was killed, or its page closed."""

        self.server = Server(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_port}"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def forward(self, request: BaseHTTPRequestHandler) -> None:
        body = request.rfile.read(int(request.headers.get("Content-Length", 0)))
        is_batch = request.path.endswith("/entries/batch/")
        self.batches += is_batch
        if not self.on:
            return
        lost = ""
        if is_batch and self.lose:
            self.lose -= 1
            lost = "back"
        elif is_batch and self.fail and self.random.random() > (1 - self.fail) ** body.count(b'"seq"'):
            lost = self.random.choice(("there", "back"))
        self.lost += bool(lost)
        if lost == "there":
            return
        try:
            status, headers, answer = self.ask(request, body)
        except (OSError, http.client.HTTPException):
            return  # the server is down
        if lost == "back":
            return
        request.send_response(status)
        for name, value in headers:
            if name.lower() not in HOP_BY_HOP_HEADERS | {"server", "date"}:
                request.send_header(name, value)
        request.send_header("Content-Length", str(len(answer)))
        request.end_headers()
        request.wfile.write(answer)

    def ask(self, request: BaseHTTPRequestHandler, body: bytes) -> tuple[int, list[tuple[str, str]], bytes]:
        headers = {name: value for name, value in request.headers.items() if name.lower() not in HOP_BY_HOP_HEADERS}
        # Closed where the server was killed in the middle, too.
        with closing(http.client.HTTPConnection("127.0.0.1", self.target, timeout=20)) as connection:
            connection.request(request.command, request.path, body or None, headers)
            reply = connection.getresponse()
            return reply.status, reply.getheaders(), reply.read()

    def close(self) -> None:
        self.server.shutdown()
        self.server.server_close()
