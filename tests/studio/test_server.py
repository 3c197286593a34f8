"""`manage.py serve` as a person runs it: a process of its own, asked over a socket, stopped by a signal."""

import http.client
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from contextlib import closing, contextmanager
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from django.conf import settings

HERE = Path(__file__).resolve().parents[2]
OURS = ("STUDIO_", "DATABASE_URL", "SECRET_KEY", "DEBUG", "DJANGO_")


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def database(like: str = ""):
    """What to set so that the server under test has a database of its own, of the kind these tests run on.

    `like` is the address of one to begin as a copy of.
    """
    ours = settings.DATABASES["default"]
    if ours["ENGINE"].endswith("sqlite3"):
        yield {}
        return
    name = f"serve_{uuid4().hex}"
    where = f"{ours['HOST']}:{ours['PORT'] or 5432}"
    who = ours["USER"] + (f":{ours['PASSWORD']}" if ours["PASSWORD"] else "")
    with psycopg.connect(f"postgresql://{who}@{where}/postgres", autocommit=True) as door:
        door.execute(f"CREATE DATABASE {name}" + (f" TEMPLATE {like.rpartition('/')[2]}" if like else ""))
        try:
            yield {"DATABASE_URL": f"postgres://{who}@{where}/{name}"}
        finally:
            door.execute(f"DROP DATABASE {name} WITH (FORCE)")


def command(folder: Path, *words: str, **environment: str) -> subprocess.Popen[str]:
    """Start a command of the studio with this data folder and nothing else set."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(OURS)}
    # Whoever started the tests may have them outlive the terminal (nohup); the studio must not inherit that.
    hangup = getattr(signal, "SIGHUP", None)
    inherited = signal.signal(hangup, signal.SIG_DFL) if hangup else None
    try:
        return subprocess.Popen(
            [sys.executable, "manage.py", *words],
            cwd=HERE,
            env=kept | {"STUDIO_DATA": str(folder)} | environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
    finally:
        if hangup:
            signal.signal(hangup, inherited)


def ask(port: int, path: str, method: str = "GET", **headers: str) -> http.client.HTTPResponse:
    """One request; the answer with its body read."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as line:
        line.request(method, path, headers=headers)
        answer = line.getresponse()
        answer.body = answer.read()  # type: ignore[attr-defined]
        return answer


def wait_until_up(process: subprocess.Popen[str], port: int) -> None:
    """Return once the studio answers; fail with what it said when it ended instead."""
    until = time.monotonic() + 90
    while time.monotonic() < until:
        if process.poll() is not None:
            pytest.fail("".join(process.communicate()))
        try:
            ask(port, "/health/")
        except OSError:
            time.sleep(0.1)
        else:
            return
    process.kill()
    pytest.fail("The studio did not answer in time.\n" + "".join(process.communicate()))


def falls_silent(port: int) -> bool:
    """Whether nobody listens any more, now or within half a minute."""
    until = time.monotonic() + 30
    while time.monotonic() < until:
        try:
            ask(port, "/health/")
        except ConnectionRefusedError:
            return True
        except OSError:
            pass
        time.sleep(0.2)
    return False


@contextmanager
def running(folder: Path, like: str = "", **environment: str):
    """A studio that answers, as (process, port); stopped at the end. `like`: see `database`."""
    port = free_port()
    with database(like) as where:
        process = command(folder, "serve", "--port", str(port), **(where | environment))
        try:
            wait_until_up(process, port)
            yield process, port
        finally:
            if process.poll() is None:
                process.terminate()
                process.communicate(timeout=60)


@pytest.fixture(scope="module")
def studio_at(tmp_path_factory):
    """One running studio for the questions that change nothing: (port, data folder)."""
    folder = tmp_path_factory.mktemp("data")
    with running(folder, STUDIO_WORKERS="2") as (_, port):
        yield port, folder


@pytest.fixture(scope="module")
def migrated(tmp_path_factory):
    """Books that need no migration any more, to begin from: (data folder, address of the database or "")."""
    folder = tmp_path_factory.mktemp("migrated")
    with database() as where:
        made = command(folder, "migrate", **where)
        assert made.wait(timeout=120) == 0, made.communicate()
        yield folder, where.get("DATABASE_URL", "")


@pytest.fixture
def copy(migrated, tmp_path):
    """What `running` takes to start a studio from a copy of those books."""
    folder, like = migrated
    return shutil.copytree(folder, tmp_path / "data"), like


def test_a_new_studio_is_ready_without_further_steps(studio_at):
    answer = ask(studio_at[0], "/health/")

    assert (answer.status, answer.body) == (200, b"ok")


def test_the_first_visit_leads_to_the_welcome_page(studio_at):
    answer = ask(studio_at[0], "/")

    assert (answer.status, answer.headers["Location"]) == (302, "/welcome/")
    assert ask(studio_at[0], "/welcome/").status == 200


def test_a_request_for_another_host_is_refused(studio_at):
    assert ask(studio_at[0], "/health/", Host="elsewhere.example").status == 400


def test_static_files_carry_a_hash_and_may_be_kept_for_good(studio_at):
    port, folder = studio_at
    sheet = next((folder / "static" / "studio").glob("*.????????????.css"))

    answer = ask(port, f"/static/studio/{sheet.name}")

    assert answer.status == 200
    assert "immutable" in answer.headers["Cache-Control"]


def test_a_busy_port_is_told_in_one_sentence(studio_at, tmp_path):
    port = studio_at[0]

    second = command(tmp_path, "serve", "--port", str(port))
    _, said = second.communicate(timeout=60)

    assert second.returncode == 1
    assert said.startswith(f"CommandError: Port {port} on 127.0.0.1 is taken by another program.")
    assert len(said.strip().splitlines()) == 1
    assert not (tmp_path / "books.sqlite3").exists()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--port", "70000"), "There is no port 70000; choose one from 1 to 65535"),
        (("--host", "0.0.0.0"), "set STUDIO_MODE=lan and name its address in STUDIO_HOSTS"),  # noqa: S104
    ],
)
def test_an_address_that_cannot_be_meant_is_told_in_one_sentence(tmp_path, words, sentence):
    process = command(tmp_path, "serve", *words)
    _, said = process.communicate(timeout=60)

    assert process.returncode == 1
    assert sentence in said
    assert len(said.strip().splitlines()) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no signal that asks a process to finish")
def test_stopping_finishes_the_request_under_way_and_ends_cleanly(copy):
    with (
        running(*copy) as (process, port),
        socket.create_connection(("127.0.0.1", port), timeout=20) as line,
    ):
        head = f"POST /welcome/ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Length: 9\r\n"
        line.sendall(f"{head}Content-Type: application/x-www-form-urlencoded\r\n\r\nname".encode())
        time.sleep(1)

        process.send_signal(signal.SIGTERM)
        time.sleep(1)
        line.sendall(b"=lane")

        assert line.recv(12).startswith(b"HTTP/1.1 ")
        said, complained = process.communicate(timeout=60)

    assert process.returncode == 0
    assert f"Open http://127.0.0.1:{port} in a browser." in said
    assert "the first visit creates the owner" in said
    assert "Traceback" not in complained


@pytest.mark.skipif(sys.platform == "win32", reason="Windows closes the programs of a closed window itself")
def test_a_closed_terminal_stops_the_studio(copy):
    with running(*copy) as (process, port):
        process.send_signal(signal.SIGHUP)

        process.communicate(timeout=60)

        assert falls_silent(port)


def test_no_worker_outlives_a_studio_that_was_killed(copy):
    with running(*copy) as (process, port):
        process.kill()
        process.communicate(timeout=60)

        assert falls_silent(port)
