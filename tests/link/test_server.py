"""The serving end, its socket file, and whoever comes to it."""

import os
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel, TypeAdapter

from streamer.errors import LinkError
from streamer.link.addresses import alone_in, is_answering, socket_path
from streamer.link.folders import config_folder, runtime_folder
from streamer.link.peers import process_at
from streamer.link.processes import running, start_process
from streamer.link.server import CLIENT_LIMIT, LinkServer, connect, may_attach


class Word(BaseModel):
    """A message of the tests."""

    text: str


WORDS = TypeAdapter(Word)


@pytest.fixture(name="server")
def _server(folder: Path) -> Iterator[LinkServer[Word]]:
    server = LinkServer(folder / "one.engine", WORDS)
    yield server
    server.close()


def leave_dead_socket(path: Path) -> None:
    """Leave what kill -9 leaves: the file of a socket on which nobody listens."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as dead:
        dead.bind(str(path))


def test_only_this_user_can_open_the_socket(server: LinkServer[Word], folder: Path):
    """Mode 0600 in a folder of mode 0700."""
    assert stat.S_IMODE(server.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(runtime_folder().stat().st_mode) == 0o700
    assert runtime_folder() == folder


@pytest.mark.parametrize(("user", "may"), [(1000, True), (0, True), (1001, False), (65534, False)])
def test_other_users_are_turned_away(user: int, *, may: bool):
    """Decided by what the kernel says of the other end (man 7 unix, SO_PEERCRED); root could anyway."""
    assert may_attach(user, own=1000) is may


def test_clients_are_heard_and_told(server: LinkServer[Word]):
    """Both ways, with two clients."""
    clients = [connect(server.path, WORDS) for _ in range(2)]
    clients[1].send(Word(text="hello"))
    said = server.poll()
    assert [message.text for _, message in said] == ["hello"]
    server.tell_all(Word(text="state"))
    assert [client.receive()[0].text for client in clients] == ["state", "state"]
    clients[0].close()
    server.poll()
    assert len(server.clients) == 1
    clients[1].close()


def test_a_look_attends_to_nothing_and_a_client_that_stays_does(server: LinkServer[Word]):
    """Whoever asks what runs connects too: a process must not live on for that."""
    assert not server.is_attended
    assert is_answering(server.path)
    server.poll()
    server.tell_all(Word(text="state"))
    assert not server.is_attended
    client = connect(server.path, WORDS)
    server.poll()
    attended = [server.is_attended]
    server.tell_all(Word(text="state"))
    attended.append(server.is_attended)
    client.close()
    server.poll()
    attended.append(server.is_attended)
    assert attended == [False, True, False], "before it is told anything it may be gone"


def test_descriptors_to_wait_on_are_those_of_open_clients(server: LinkServer[Word]):
    """One that has just been cut off is not among them: select() refuses -1."""
    clients = [connect(server.path, WORDS) for _ in range(2)]
    server.poll()
    server.clients[0].close()
    assert len(server.filenos()) == 2
    assert all(fileno >= 0 for fileno in server.filenos())
    for client in clients:
        client.close()


def test_a_client_that_has_not_read_yet_can_be_waited_for(server: LinkServer[Word]):
    """Only while something is to be sent to it."""
    client = connect(server.path, WORDS)
    server.poll()
    assert server.waiting_filenos() == []
    server.clients[0].send(Word(text="x" * 2**20))
    assert server.waiting_filenos() == [server.clients[0].fileno()]
    client.close()


def test_nonsense_costs_only_the_one_who_sends_it_its_connection(
    server: LinkServer[Word], capsys: pytest.CaptureFixture[str]
):
    """The reason goes to the log, not more than a hundred times; the other client goes on."""
    good = connect(server.path, WORDS)
    for _ in range(110):
        bad = connect(server.path, WORDS)
        bad._socket.sendall(b"nonsense\n")
        assert server.poll() == []
        bad.close()
    good.send(Word(text="still here"))
    assert [message.text for _, message in server.poll()] == ["still here"]
    assert capsys.readouterr().err.count("does not speak our messages") == 100
    good.close()


def test_a_flood_from_one_client_is_taken_in_turns(server: LinkServer[Word]):
    """Not more than 64 KiB of it at a time, so that the others are heard as well."""
    flood, other = connect(server.path, WORDS), connect(server.path, WORDS)
    for _ in range(8000):
        flood.send(Word(text=""))
    other.send(Word(text="me too"))
    said = server.poll()
    assert len(said) <= 2**16 // len('{"text":""}\n') + 1
    assert said[-1][1].text == "me too"
    flood.close()
    other.close()


def test_more_clients_than_the_limit_are_turned_away(server: LinkServer[Word]):
    """The thirty-third gets no answer but a closed connection."""
    clients = [connect(server.path, WORDS) for _ in range(CLIENT_LIMIT)]
    server.poll()
    one_too_many = connect(server.path, WORDS)
    server.poll()
    assert len(server.clients) == CLIENT_LIMIT
    assert one_too_many.receive() == []
    assert not one_too_many.is_open
    for client in clients:
        client.close()


def test_a_second_server_of_a_live_name_is_refused(server: LinkServer[Word]):
    """And the first is not disturbed."""
    with pytest.raises(LinkError, match="is running already"):
        LinkServer(server.path, WORDS)
    assert is_answering(server.path)


def test_what_a_killed_server_left_is_taken_over(folder: Path):
    """A socket file on which nobody listens is no reason to refuse."""
    path = folder / "one.engine"
    leave_dead_socket(path)
    assert not is_answering(path)
    LinkServer(path, WORDS).close()
    assert not path.exists()


@pytest.mark.usefixtures("server")
def test_what_killed_processes_left_is_cleared_away_and_nothing_else(folder: Path):
    """Socket, frames and an empty log; a log in which something stands is kept, and so is a live server."""
    leave_dead_socket(folder / "on.engine")
    ours = [folder / name for name in ("one.engine.1.frame", "one.engine.log", "yard.yard.frame")]
    dead = [folder / name for name in ("on.engine.1.frame", "on.engine.2.frame", "on.engine.log")]
    for path in (*ours, *dead):
        path.touch()
    (folder / "told.engine.log").write_text("it failed")
    assert running(".engine") == ("one",)
    assert all(path.exists() for path in ours)
    assert not any(path.exists() for path in dead)
    assert (folder / "told.engine.log").exists()


def test_nobody_clears_a_socket_that_is_just_being_made(folder: Path):
    """Bound and not yet listening it looks dead; whoever looks waits for the lock."""
    path, found = folder / "one.engine", []
    with alone_in(folder):
        looking = threading.Thread(target=lambda: found.append(running(".engine")))
        looking.start()
        listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        listener.bind(str(path))
        looking.join(0.1)
        assert looking.is_alive()
        listener.listen()
    looking.join(2)
    assert found == [("one",)]
    listener.close()


def test_a_stopped_process_is_not_taken_for_a_dead_one(folder: Path):
    """Its socket takes nobody in any more, but it is there."""
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    listener.bind(str(folder / "one.engine"))
    listener.listen(0)
    waiting = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    waiting.connect(str(folder / "one.engine"))
    assert running(".engine") == ("one",)
    with pytest.raises(LinkError, match="does not answer"):
        connect(folder / "one.engine", WORDS)
    waiting.close()
    listener.close()


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("name", ["", "../up", "a/b", "a b", "a.b", "*", "x" * 61, "é"])
def test_names_that_could_be_mistaken_for_paths_are_refused(name: str):
    """A name becomes the name of a file."""
    with pytest.raises(LinkError, match="cannot be a name"):
        socket_path(name, ".engine")


def test_a_folder_too_deep_for_a_local_socket_is_told_as_that(folder: Path, monkeypatch: pytest.MonkeyPatch):
    """sun_path holds 108 octets (man 7 unix); what to do is to set another folder."""
    deep = folder / ("d" * 100)
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(deep))
    for ask in (lambda: socket_path("one", ".engine"), lambda: LinkServer(deep / "one.engine", WORDS)):
        with pytest.raises(LinkError, match=r"too long for a local socket.*ROPEWALK_RUNTIME_DIR"):
            ask()
    with pytest.raises(LinkError, match="too long"):
        connect(deep / "one.engine", WORDS)


def test_folders_are_made_closed_to_others(folder: Path, monkeypatch: pytest.MonkeyPatch):
    """And closed if they were open."""
    (folder / "open").mkdir(mode=0o755)
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(folder / "new" / "run"))
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", str(folder / "open"))
    for made in (runtime_folder(), config_folder()):
        assert stat.S_IMODE(made.stat().st_mode) == 0o700


def test_a_folder_that_cannot_be_had_is_told_with_what_to_set(folder: Path, monkeypatch: pytest.MonkeyPatch):
    """A file in its place, for one."""
    (folder / "file").touch()
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", str(folder / "file" / "config"))
    with pytest.raises(LinkError, match="ROPEWALK_CONFIG_DIR"):
        config_folder()


@pytest.mark.skipif(os.getuid() == 0, reason="root owns every folder")
def test_a_folder_of_another_user_is_refused(monkeypatch: pytest.MonkeyPatch):
    """The root folder, say."""
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", "/")
    with pytest.raises(LinkError, match="another user"):
        runtime_folder()


def test_a_process_that_does_not_come_up_is_told_in_its_own_words(folder: Path):
    """And leaves nothing behind."""
    with pytest.raises(LinkError, match="No module named"):
        start_process("no_such_module_of_ours", [], "one", ".engine", WORDS)
    assert {path.name for path in folder.iterdir()} <= {".lock"}


def test_a_file_called_like_a_library_in_the_present_folder_is_not_taken_for_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
):
    """People have files called numpy.py and select.py lying about."""
    (folder / "json.py").write_text("raise SystemExit('the wrong one')")
    monkeypatch.chdir(folder)
    with pytest.raises(LinkError) as caught:
        start_process("json.tool", ["no such file"], "one", ".engine", WORDS)
    assert "the wrong one" not in str(caught.value)
    assert subprocess.run([sys.executable, "-P", "-c", "import json"], check=False).returncode == 0


@pytest.mark.skipif(not hasattr(socket, "SO_PEERCRED"), reason="this system does not tell")
def test_who_listens_is_told(server: LinkServer[Word], tmp_path: Path):
    """By the system itself: SO_PEERCRED, unix(7). Nobody listens at a path that is not there."""
    assert process_at(server.path) == os.getpid()
    assert process_at(tmp_path / "nobody") is None
