"""The page is its own person's: foreign requests, hostile texts and files, fifty sessions."""

from __future__ import annotations

import http.client
import io
import socket
import subprocess
import sys
import zipfile
from pathlib import Path

from tests.browser.conftest import Bench, Server, until

HOSTILE = "<script>window.hurt = 1</script>"
IMAGE = '<img src=x onerror="window.hurt = 2">'


def status(server: Server, headers: dict[str, str], method: str = "GET", path: str = "/") -> int:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=20)
    connection.putrequest(method, path, skip_host=True)
    for name, value in headers.items():
        connection.putheader(name, value)
    connection.endheaders()
    return int(connection.getresponse().status)


def test_foreign_hosts_and_origins_are_refused(server: Server):
    ours = f"127.0.0.1:{server.port}"
    assert status(server, {"Host": ours}) == 200
    assert status(server, {"Host": f"evil.test:{server.port}"}) == 403
    assert status(server, {"Host": ours, "Origin": "http://evil.test"}) == 403
    assert status(server, {"Host": ours}, "POST", "/_nicegui/client/x/upload/1") == 403


def test_the_websocket_refuses_a_foreign_origin(server: Server):
    path = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
    ours = f"127.0.0.1:{server.port}"
    upgrade = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
    }
    assert status(server, {"Host": ours, "Origin": f"http://{ours}", **upgrade}, path=path) == 101
    assert status(server, {"Host": ours, "Origin": "http://evil.test", **upgrade}, path=path) == 403
    assert status(server, {"Host": ours, **upgrade}, path=path) == 403


def test_no_get_changes_the_formula(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled().kept()
    for path in ("", "?document=other", "?new=1", "de", "_nicegui/client/x/upload/1"):
        bench.page.evaluate("(path) => fetch(path)", bench.server.url + path)
    bench.open()
    bench.settled()
    assert bench.materials() == ["vanillin"]


def test_the_policy_lets_nothing_in_from_elsewhere(bench: Bench):
    policy = bench.page.evaluate(
        "fetch('/').then((answer) => answer.headers.get('content-security-policy'))"
    )
    assert policy.startswith("default-src 'none'")
    script = next(part for part in policy.split("; ") if part.startswith("script-src"))
    assert "'unsafe-inline'" not in script
    assert "frame-ancestors 'none'" in policy
    bench.page.evaluate(
        """() => {
          const script = document.createElement('script');
          script.textContent = 'window.hurt = 3';
          document.body.append(script);
        }"""
    )
    assert bench.page.evaluate("window.hurt") is None
    bench.errors.clear()


def test_hostile_texts_are_only_texts(bench: Bench):
    bench.page.get_by_label("Name", exact=True).fill(IMAGE)
    bench.row(1, HOSTILE, "1")
    bench.row(2, IMAGE, "2")
    bench.row(3, "water", "1")
    bench.state("need correcting")
    bench.page.locator("li.line", has_text="unknown material").first.wait_for()
    bench.page.get_by_role("button", name="More about row 1").click()
    bench.page.get_by_role("dialog").get_by_text(HOSTILE).wait_for()
    bench.page.keyboard.press("Escape")
    bench.save(HOSTILE)
    bench.page.get_by_text(f"Saved {HOSTILE}, version 1.").wait_for()
    bench.saved().get_by_text(f"{HOSTILE}, version 1").wait_for()
    bench.page.keyboard.press("Escape")
    bench.page.get_by_role("dialog").wait_for(state="hidden")
    bench.paste(f"{HOSTILE}\t1\n{IMAGE}\t<b>2</b>")
    bench.page.locator("li.line", has_text="is not a number").wait_for()
    bench.open()
    bench.page.locator("li.line", has_text="unknown material").first.wait_for(timeout=30_000)
    assert bench.page.evaluate("window.hurt") is None
    assert not bench.errors


def test_uploads_have_limits_that_are_told(bench: Bench):
    bench.example()
    said = bench.page.locator(".problem.pre")
    bench.drop("large.csv", b"material,grams\n" + b"vanillin,1\n" * 500_000)
    said.get_by_text("larger than 5 MB").wait_for(timeout=30_000)
    bench.drop("long.csv", b"material,grams\n" + b"vanillin,1\n" * 5_100)
    said.get_by_text("more than 5000 rows").wait_for(timeout=30_000)
    bench.drop("longish.csv", b"material,grams\n" + b"vanillin,1\n" * 400)
    said.get_by_text("More than 300 rows").wait_for(timeout=30_000)
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"0" * 300_000_000)
    assert len(bomb.getvalue()) < 1_000_000
    bench.drop("bomb.xlsx", bomb.getvalue())
    said.get_by_text("unpacks to far more").wait_for(timeout=30_000)
    assert len(bench.materials()) == 16
    assert bench.page.evaluate("window.did_handshake")


def test_a_file_dropped_as_soon_as_another_was_read_is_read_too(bench: Bench):
    """And nothing breaks it off: the server doesn't tell the upload to forget what it has."""
    told = []
    bench.page.on("websocket", lambda socket: socket.on("framereceived", lambda f: told.append(f)))
    bench.page.reload()
    bench.ready()
    said = bench.page.locator(".problem.pre")
    for rows in (5_100, 5_200, 400):
        bench.drop(f"{rows}.csv", b"material,grams\n" + b"vanillin,1\n" * rows)
        said.get_by_text(f"{rows}.csv").wait_for(timeout=30_000)
    bench.drop("short.csv", b"material,grams\nvanillin,1\npropylene glycol,9\n")
    bench.page.wait_for_function(
        "document.querySelectorAll('li.line input.material')[1]?.value === 'propylene glycol'",
        timeout=30_000,
    )
    assert told
    assert not any("runMethod" in str(f) and "reset" in str(f) for f in told)


def test_the_same_file_can_be_dropped_again(bench: Bench):
    for _ in range(2):
        bench.drop("short.csv", b"material,grams\nvanillin,1\npropylene glycol,9\n")
        bench.page.wait_for_function(
            "document.querySelectorAll('li.line input.material')[1]?.value === 'propylene glycol'",
            timeout=30_000,
        )
        bench.row(2, "ethanol", "9")
        bench.settled()


def test_the_server_counts_what_it_is_sent(bench: Bench):
    address = bench.page.evaluate(
        "Object.values(mounted_app.elements).find((one) => one.tag === 'nicegui-upload').props.url"
    )
    answers = bench.page.evaluate(
        """(address) => Promise.all([4e6, 6e6].map(async (size) => {
          const form = new FormData();
          form.append('file', new Blob([new Uint8Array(size)]), 'large.csv');
          const answer = await fetch(address, {method: 'POST', body: form});
          return [answer.status, await answer.text()];
        }))""",
        address,
    )
    assert answers[0][0] == 200
    assert answers[1][0] == 413
    assert "larger than 5 MB" in answers[1][1]


def test_no_file_outside_the_folder_is_served_or_written(bench: Bench):
    server, secret = bench.server, (bench.server.folder / "page.secret").read_text()
    ours = {"Host": f"127.0.0.1:{server.port}"}
    for path in (
        "/../../../../etc/passwd",
        "/..%2f..%2f..%2fetc%2fpasswd",
        "/page.secret",
        "/work.sqlite3",
        "/_nicegui/static/../../../../../../etc/passwd",
        "/_nicegui/3.18.0/static/..%2f..%2f..%2f..%2f..%2f..%2fetc%2fpasswd",
        "/_nicegui/3.18.0/components/..%2f..%2f..%2f..%2fetc%2fpasswd",
        f"/{server.folder}/page.secret",
    ):
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=20)
        connection.putrequest("GET", path, skip_host=True)
        connection.putheader("Host", ours["Host"])
        connection.endheaders()
        answer = connection.getresponse()
        body = answer.read()
        assert answer.status in (403, 404), path
        assert b"root:" not in body
        assert secret.encode() not in body
    around = {one for one in server.folder.parent.rglob("*") if server.folder not in one.parents}
    name = "../../../outside"
    bench.page.get_by_label("Name", exact=True).fill(name)
    bench.row(1, "water", "1")
    bench.settled().kept()
    bench.save(name)
    bench.page.get_by_text(f"Saved {name}, version 1.").wait_for()
    with bench.page.expect_download() as found:
        bench.question("papers").get_by_role("button", name="Formula as CSV").click()
    assert "/" not in found.value.suggested_filename
    assert ".." not in found.value.suggested_filename
    bench.drop("../../outside.csv", b"material,grams\nvanillin,1\n")
    bench.page.wait_for_function(
        "document.querySelector('li.line input.material').value === 'vanillin'"
    )
    bench.kept()
    left = {one for one in server.folder.parent.rglob("*") if server.folder not in one.parents}
    assert left == around
    assert {one.name.partition(".")[0] for one in server.folder.iterdir()} <= {
        "work", "page", "materials", "observations"}  # fmt: skip


def test_own_materials_read_no_file_outside_the_folder(bench: Bench):
    inside = bench.question("materials")
    with bench.page.expect_file_chooser() as chooser:
        inside.get_by_role("button", name="Bring in a file").click()
    text = "material,property,value\nbase,formula_file,../../../../etc/passwd\nbase,density,1\n"
    chooser.value.set_files({"name": "mine.csv", "mimeType": "text/csv", "buffer": text.encode()})
    inside.get_by_text("lies outside the folder").wait_for(timeout=60_000)
    assert "root:" not in inside.inner_text()


def test_beyond_this_computer_needs_the_flag_and_warns(tmp_path):
    command = [sys.executable, "-m", "blendwright", "serve", "--no-browser", "--host", "0.0.0.0"]
    found = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert found.returncode == 2
    assert "--let-others-in" in found.stderr
    server = Server(tmp_path, arguments=("--host", "0.0.0.0", "--let-others-in"))
    server.start()
    try:
        assert status(server, {"Host": f"127.0.0.1:{server.port}"}) == 200
        assert status(server, {"Host": f"evil.test:{server.port}"}) == 403
    finally:
        server.stop()


def test_a_port_in_use_is_told(server: Server, tmp_path):
    command = [sys.executable, "-m", "blendwright", "serve", "--no-browser"]
    command += ["--port", str(server.port), "--folder", str(tmp_path)]
    found = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert found.returncode == 2
    assert "choose another" in found.stderr


def test_killing_the_server_leaves_no_process_behind(tmp_path):
    server = Server(tmp_path).start()
    assert server.process is not None
    children = subprocess.run(
        ["ps", "--ppid", str(server.process.pid), "-o", "pid="],
        capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    assert len(children) >= 2
    server.kill()
    until(lambda: not any(Path(f"/proc/{child}").exists() for child in children))
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # but for one who listens
        trial.bind(("127.0.0.1", server.port))
