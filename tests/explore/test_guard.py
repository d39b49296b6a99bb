"""Who gets an answer, what is refused, and that nothing is written outside the folder."""

from __future__ import annotations

import json
import re
import socket

import pytest

from gridshell.cli import main
from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.explore.serve.run import listening


def test_token_works_once_and_then_only_the_cookie(fresh):
    assert fresh.ask("GET", "/")[0] == 403
    assert fresh.ask("GET", "/start")[0] == 403
    assert fresh.ask("GET", "/?token=guess")[0] == 403
    status, headers, _ = fresh.ask("GET", f"/?token={fresh.token}")
    assert status == 303
    cookie = headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert fresh.ask("GET", f"/?token={fresh.token}")[0] == 403  # used up
    assert fresh.ask("GET", "/start", Cookie=cookie.split("=")[0] + "=guess")[0] == 403
    fresh.cookie = cookie.split(";")[0]
    assert fresh.ask("GET", "/start")[0] == 200
    assert fresh.ask("GET", f"/?token={fresh.token}")[0] == 303  # the same browser again


def test_an_old_address_explains_itself(fresh):
    status, headers, content = fresh.ask("GET", "/?token=old")
    assert status == 403 and headers["Content-Type"].startswith("text/html")
    assert b"gridshell explore FILE" in content
    assert "default-src 'none'" in headers["Content-Security-Policy"]


def test_a_killed_server_leaves_no_process_and_no_folder(tmp_path):
    """What a kill leaves is removed by the server's own helper process."""
    import os
    import time
    from pathlib import Path

    from running_page import Served, short_probe

    before = set(Path(os.environ.get("TMPDIR", "/tmp")).glob("gridshell-explore-*"))
    server = Served(short_probe(tmp_path))
    server.enter()
    server.json("POST", "/map", {"values": {}, "count": 2})  # the helper is up
    mine = set(Path(os.environ.get("TMPDIR", "/tmp")).glob("gridshell-explore-*")) - before
    children = Path(f"/proc/{server.process.pid}/task/{server.process.pid}/children")
    if not children.exists():
        pytest.skip("no /proc on this system")
    left = [int(word) for word in children.read_text().split()]
    assert left and mine
    server.process.kill()
    server.process.wait()
    server.process.stdout.close()
    end = time.monotonic() + 30
    while time.monotonic() < end:
        alive = [pid for pid in left if Path(f"/proc/{pid}").exists()
                 and "Z" not in Path(f"/proc/{pid}/stat").read_text().split(")")[1][:3]]
        if not alive and not any(folder.exists() for folder in mine):
            return
        time.sleep(0.2)
    raise AssertionError((alive, mine))


def test_listens_on_the_loopback_only():
    taken = listening(0)
    try:
        assert taken.getsockname()[0] == "127.0.0.1"
        taken.listen()
        with pytest.raises(InputError, match="--port"):
            listening(taken.getsockname()[1])
    finally:
        taken.close()
    with pytest.raises(InputError, match="--port"):
        listening(70000)


@pytest.mark.parametrize("headers", [
    {"Host": "evil.example"}, {"Host": "127.0.0.1"}, {"Host": "127.0.0.1:1"},
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"},
    {"Sec_Fetch_Site": "cross-site"}, {"Sec_Fetch_Site": "same-site"},
])
def test_foreign_hosts_and_pages_are_refused(served, headers):
    assert served.ask("GET", "/start", **headers)[0] == 403
    assert served.ask("POST", "/answer", {"values": {}}, **headers)[0] == 403


def test_own_page_is_answered(served):
    own = f"http://127.0.0.1:{served.port}"
    assert served.ask("POST", "/answer", {"values": {}}, Origin=own,
                      Sec_Fetch_Site="same-origin")[0] == 200


def test_forms_are_refused(served):
    status, _ = served.json("POST", "/answer", '{"values": {}}', Content_Type="text/plain")
    assert status == 403


@pytest.mark.parametrize("body", [
    "", "{", "[]", "nul", '"text"', "[" * 5000, b"\xff\xfe", '{"values": 1e',
])
def test_malformed_bodies_are_bad_requests(served, body):
    status, content = served.json("POST", "/answer", body, Content_Type="application/json")
    assert status == 400 and content["problems"]


def test_oversized_bodies_are_refused(served):
    big = json.dumps({"values": {"ribs.height": "5 mm" + " " * 70_000}})
    assert served.ask("POST", "/answer", big, Content_Type="application/json")[0] == 413


def test_raw_rubbish_is_a_bad_request_and_the_server_goes_on(served):
    for rubbish in (b"HELLO\r\n\r\n", b"GET /\x00 HTTP/1.1\r\nHost: x\r\n\r\n",
                    b"POST /answer HTTP/1.1\r\nContent-Length: -5\r\n\r\n"):
        with socket.create_connection(("127.0.0.1", served.port), timeout=10) as raw:
            raw.sendall(rubbish)
            assert re.match(rb"HTTP/1\.[01] 4\d\d", raw.recv(200)), rubbish
    assert served.ask("GET", "/start")[0] == 200


def test_a_page_closed_in_the_middle_does_no_harm(served):
    for _ in range(3):
        raw = socket.create_connection(("127.0.0.1", served.port), timeout=10)
        body = b'{"values": {}, "count": 30}'
        raw.sendall(
            b"POST /map HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nCookie: %s\r\n"
            b"Content-Type: application/json\r\nContent-Length: %d\r\n\r\n%s"
            % (served.port, served.cookie.encode(), len(body), body)
        )
        raw.close()
    assert served.ask("POST", "/answer", {"values": {}})[0] == 200


@pytest.mark.parametrize("content", [
    {"values": {"ribs.height": "5"}}, {"values": {"ribs.nothing": "5 mm"}}, {"values": None}, {},
    {"values": {"ribs.height": None}}, {"values": {"ribs.height": {"a": 1}}},
])
def test_impossible_designs_are_told_not_crashed(served, content):
    for address in ("/answer", "/details", "/map", "/scene", "/save", "/jobs"):
        status, answer = served.json("POST", address, {
            "name": "x", "kind": "solids", "folder": "x", **content})
        assert status == 422 and answer["problems"][0]["message"], address


def test_no_data_at_a_temperature_is_told(served):
    hot = {"values": {"material.temperature": "900 degC"}}
    for address in ("/answer", "/details", "/map"):
        status, answer = served.json("POST", address, hot)
        assert status == 422 and answer["problems"][0]["path"] == "material.temperature"


@pytest.mark.parametrize("count", [0, 1, 41, 10**9, "9", 2.5, None, True])
def test_map_size_is_limited(served, count):
    assert served.ask("POST", "/map", {"values": {}, "count": count})[0] == 422


@pytest.mark.parametrize("name", [
    "../out.toml", "/tmp/out.toml", "a/b.toml", "..", ".hidden.toml", "", "a\\b.toml", "a\0b",
    "x" * 200, "nul\n.toml", None, 5, ["a"], "~/x.toml", "C:x.toml",
])
def test_files_stay_in_the_folder(served, name):
    before = sorted(served.folder.parent.rglob("*"))
    for address, key in (("/save", "name"), ("/jobs", "folder")):
        status, answer = served.json("POST", address, {"values": {}, "kind": "files", key: name})
        assert status == 422, (address, answer)
    assert sorted(served.folder.parent.rglob("*")) == before


def test_links_out_of_the_folder_are_refused(served, tmp_path):
    (served.folder / "link.toml").symlink_to(tmp_path / "target.toml")
    try:
        status, _ = served.json("POST", "/save", {
            "values": {}, "name": "link.toml", "replace": True})
        assert status == 422 and not (tmp_path / "target.toml").exists()
    finally:
        (served.folder / "link.toml").unlink()


def test_only_the_page_s_own_files(served):
    assert served.ask("GET", "/page/page.js")[0] == 200
    for path in ("/page/nothing.js", "/page/../server.py", "/page/%2e%2e%2fserver.py",
                 "/etc/passwd", "/page/page.html%00.js"):
        assert served.ask("GET", path)[0] in (400, 404), path


def test_headers_keep_the_page_to_itself(served):
    _, headers, body = served.ask("GET", "/")
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    # Works offline: nothing is named by a full address anywhere in what is sent.
    assert b"http://" not in body and b"https://" not in body


def test_saved_file_is_what_the_commands_read(served, capsys):
    values = {"ribs.height": "6.5 mm", "ribs.side": "outside", "material.temperature": "0 degC"}
    status, answer = served.json("POST", "/answer", {"values": values})
    assert status == 200
    assert served.json("POST", "/save", {"values": values, "name": "other"}) == (
        200, {"saved": "other.toml", "comments": True})
    assert served.ask("POST", "/save", {"values": values, "name": "other"})[0] == 409
    assert served.ask("POST", "/save", {"values": values, "name": "other", "replace": True})[
        0] == 200
    assert main(["tube", str(served.folder / "other.toml"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    told.pop("verdict")  # of the mold too, which the page asks for on its own
    assert told == answer["tube"]
    assert read_design(served.folder / "other.toml").ribs.side == "outside"
