"""A real HTTP server on loopback that keeps what it is sent, and answers as it is told."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread


@dataclass
class Received:
    path: str
    headers: dict[str, str]
    body: str


@dataclass
class Receiver:
    """`answer` writes the whole answer; by default 204."""

    url: str = ""
    got: list[Received] = field(default_factory=list)
    answer: Callable[[BaseHTTPRequestHandler], None] | None = None


def status(
    code: int, body: bytes = b"", **headers: str
) -> Callable[[BaseHTTPRequestHandler], None]:
    def answer(request: BaseHTTPRequestHandler) -> None:
        request.send_response(code)
        for name, value in headers.items():
            request.send_header(name, value)
        request.send_header("Content-Length", str(len(body)))
        request.end_headers()
        request.wfile.write(body)

    return answer


@contextmanager
def receiving() -> Iterator[Receiver]:
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"])).decode()
            headers = {name.lower(): value for name, value in self.headers.items()}
            receiver.got.append(Received(self.path, headers, body))
            (receiver.answer or status(204))(self)

        def log_message(self, *_: object) -> None:
            """Tests are silent."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    receiver.url = f"http://127.0.0.1:{server.server_address[1]}/in?from=us"
    try:
        yield receiver
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
