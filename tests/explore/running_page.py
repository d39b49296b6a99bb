"""A running page on a copy of an example, asked over plain HTTP or through a real browser."""

from __future__ import annotations

import http.client
import json
import re
import signal
import subprocess
import sys
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"
START = (
    "import sys; from gridshell.explore.serve.run import run_explore; "
    "sys.exit(run_explore(sys.argv[1], 0, False))"
)


class Served:
    """One running server."""

    def __init__(self, file: Path) -> None:
        self.file, self.folder = file, file.parent
        self.process = subprocess.Popen(
            [sys.executable, "-c", START, str(file)], stdout=subprocess.PIPE, text=True,
        )
        lines = [self.process.stdout.readline() for _ in range(2)]
        found = re.search(r"http://127\.0\.0\.1:(\d+)/\?token=(\S+)", lines[1])
        assert found, lines
        self.port, self.token = int(found[1]), found[2]
        self.address = found[0]
        self.cookie = ""

    def ask(self, method, path, body=None, **headers):
        """(status, headers, body) of one request; a dict is sent as JSON."""
        if isinstance(body, dict):
            body = json.dumps(body)
            headers.setdefault("Content-Type", "application/json")
        if self.cookie:
            headers.setdefault("Cookie", self.cookie)
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request(
                method, path, body, {k.replace("_", "-"): v for k, v in headers.items()}
            )
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()

    def enter(self):
        """Exchange the token for the cookie."""
        status, headers, _ = self.ask("GET", f"/?token={self.token}")
        assert status == 303, status
        self.cookie = headers["Set-Cookie"].split(";")[0]

    def json(self, method, path, body=None, **headers):
        """(status, content) of one request."""
        status, _, content = self.ask(method, path, body, **headers)
        return status, json.loads(content)

    def close(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        self.process.wait(60)
        self.process.stdout.close()


def short_probe(folder):
    """The probe body cut short, so that its solids are quick to build; returns its file."""
    from gridshell.define.files.reading import read_design
    from gridshell.define.files.writing import write_definition
    from gridshell.define.tables.design import with_values

    design = with_values(read_design(EXAMPLES / "lake-probe.toml"), {
        "tube.length": 0.24, "tube.sections": 2, "units": "metric",
        # Wide pieces and steep ribs, so that some lock.
        "tube.segments": 3, "ribs.draft": 0.07})
    write_definition(design, folder / "probe-short.toml")
    return folder / "probe-short.toml"
