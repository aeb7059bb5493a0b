"""Bad input and faults of the machine: words and an exit code, never a traceback, in every command."""

import errno
import os
import socket
import subprocess
import time
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from streamer.soak.journal import Journal, journal_path, reading
from streamer.soak.records import EventKind
from streamer.wire import e131
from tests.cli.conftest import ADDRESS, LIMIT_S, run
from tests.cli.warm import ROPEWALK
from tests.soak.conftest import event, facts
from tui.commands import ENTRIES, ropewalk

TO = ("--to", "127.0.0.1")


def ask(*words: str | Path) -> Result:
    """Run the command in this process; what it cannot explain is raised."""
    result = CliRunner().invoke(ropewalk, list(map(str, words)))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("walk",), "-u"),
        (("wolk", "-u", "1", *TO), "walk"),
        (("walk", "-u", "0", *TO), "from 1 to 63999"),
        (("walk", "-u", "64000", *TO), "from 1 to 63999"),
        (("walk", "-u", "9-3", *TO), "3-9"),
        (("walk", "-u", "1,1", *TO), "twice"),
        (("walk", "-u", "", *TO), "-u"),
        (("walk", "-u", "32768", "--protocol", "artnet", *TO), "32767"),
        (("walk", "-u", "1", "--protocol", "artnet"), "--to"),
        (("walk", "-u", "1", "--protocol", "artnet", "--to", "multicast"), "multicast"),
        (("walk", "-u", "1", "--protocol", "artnet", "--priority", "9", *TO), "--priority"),
        (("walk", "-u", "1", "--to", "boathouse.example"), "not looked up"),
        (("walk", "-u", "1", "--to", "\x1b[2Jx"), "--to"),
        (("walk", "-u", "1", "-p", "nosuch=1", *TO), "nosuch"),
        (("walk", "-u", "1", "-p", "window", *TO), "-p window=VALUE"),
        (("walk", "-u", "1", "-p", "window=no", *TO), "whole number"),
        (("walk", "-u", "1", "--only", "9/9", *TO), "--only"),
        (("walk", "-u", "1", "--source-name", "x" * 64, *TO), "--source-name"),
        (("walk", "-u", "1", "--rate", "45", *TO), "44"),
        (("walk", "-u", "1", "--rate", "nan", *TO), "--rate"),
        (("walk", "-u", "1", "--level", "101", *TO), "--level"),
        (("walk", "-u", "1", "--seconds", "inf", *TO), "--seconds"),
        (("walk", "-u", "1", "--seconds", "0", *TO), "--seconds"),
        (("walk", "-u", "1", "--priority", "201", *TO), "--priority"),
        (("walk", "-u", "1", "--flashes", "4", *TO), "--understood and the word seizures"),
        (("walk", "-u", "1", "--flashes", "4", "--understood", "seizure", *TO), "WCAG 2.x"),
        (("walk", "-u", "1", "--flashes", "4", "--understood", "x" * 999, *TO), "photosensitive"),
        (("walk", "-u", "1", "--flashes", "0", *TO), "--flashes"),
        (("walk", "-u", "1", "--flashes", "9" * 5000, *TO), "is not a whole number from 1 to"),
        (("w" * 5000, "-u", "1", *TO), "pattern"),
        (("walk", "-u", "1", "--flashes", "23", "--understood", "seizures", *TO), "--flashes"),
    ],
)
def test_a_wrong_request_ends_with_2_and_says_what_to_write(words: tuple[str, ...], says: str):
    """Nothing is started and nothing sent."""
    result = ask("send", *words)
    assert result.exit_code == 2, result.output
    assert says in result.stderr
    assert "\x1b" not in result.output
    assert result.stdout == ""


@pytest.mark.parametrize("command", ["find", "count", "prove", "ui"])
def test_only_send_can_be_asked_for_more_than_three_flashes(folders: Path, command: str):
    """WCAG 2.x success criterion 2.3.1; the rest say why, and which command can."""
    ask("new", folders / "display.toml")
    port = ("--port", "jetty/1") if command in {"find", "count"} else ()
    result = ask(command, folders / "display.toml", *port, "--flashes", "4")
    assert result.exit_code == 2
    for said in ("more than 3 flashes", "photosensitive", "WCAG", "only ropewalk send"):
        assert said in result.stderr
    for wrong in ("0", "two", "9" * 5000):
        told = ask(command, folders / "display.toml", *port, "--flashes", wrong)
        assert told.exit_code == 2
        assert "is not a whole number from 1 to 3" in told.stderr
        assert len(told.stderr) < 500, "and not all of it again"
    assert (
        "No such option" in ask(command, folders / "display.toml", *port, "--understood", "seizures").stderr
    )


def test_what_is_to_be_typed_is_quoted_for_the_shell(folders: Path):
    """A name in a file of anybody's may hold what a shell would run (POSIX.1-2017, XCU 2.2)."""
    path = one_port(folders)
    path.write_text(path.read_text().replace('"jetty"', '"$(date); x"'))
    result = ask("log", path, "--fixed", "new lead", "$(date); x/1")
    assert "--fixed '$(date); x/1' 'new lead'" in result.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("send", "{file}", "walk"), "ropewalk send walk {file}"),
        (("send", "no.toml", "walk"), "ropewalk send walk no.toml"),
        (("send", "{file}", "wolk"), "ropewalk send PATTERN {file}"),
        (("send", "{file}"), "ropewalk send PATTERN {file}"),
        (("record", "{file}", "evening.pcapng"), "ropewalk record evening.pcapng {file}"),
        (("record", "{file}"), "ropewalk record CAPTURE {file}"),
        (("log", "{file}", "--fixed", "new lead", "jetty/1"), "--fixed jetty/1 'new lead'"),
        (("log", "{file}", "--note", "wet", "jetty/1"), "--note jetty/1 wet"),
        (("yard", "{file}", "--fault", "break:3=jetty/1"), "--fault jetty/1=break:3"),
    ],
)
def test_what_is_the_wrong_way_round_is_told_with_the_right_one(
    folders: Path, words: tuple[str, ...], says: str
):
    """Ready to be typed; nothing is sent or written meanwhile."""
    path = one_port(folders)
    before = path.read_bytes()
    result = ask(*(each.format(file=path) for each in words))
    assert result.exit_code == 2
    assert says.format(file=path) in result.stderr
    assert "comes first, then" in result.stderr
    assert sorted(each.name for each in folders.glob("*.*")) == [path.name]
    assert path.read_bytes() == before


def test_a_wrong_request_with_json_is_told_in_json_too():
    """A script reads standard output; a person, standard error."""
    done = run("send", "wolk", "-u", "1", "--json", *TO)
    assert (done.code, done.json["ok"]) == (2, False)
    assert done.json["error"] == done.err.strip()


FILED: dict[str, tuple[str, ...]] = {
    "check": ("FILE",),
    "plan": ("FILE",),
    "send": ("level", "FILE"),
    "yard": ("FILE", "--seconds", "0.1"),
    "ui": ("FILE",),
    "prove": ("FILE",),
    "find": ("FILE",),
    "count": ("FILE",),
    "log": ("FILE",),
    "report": ("FILE",),
    "soak": ("FILE", "--for", "1s"),
    "hear": ("FILE", "--seconds", "0.1"),
    "scan": ("FILE", "--seconds", "0.1"),
    "doctor": ("FILE", "--seconds", "0.1"),
    "record": ("new.pcapng", "FILE", "--seconds", "0.1"),
    "replay": ("FILE", "--look"),
    "new": ("FILE",),
}
"""How each command is given its file."""
NO_DISPLAY = {"report", "replay", "new"}
"""These read another file, or none: a journal that is not there, a capture."""
KINDS = ("latin", "binary", "huge", "broken", "wrong", "empty", "missing", "folder", "device", "closed")
LINED = {"latin": 2, "broken": 3, "wrong": 10}
"""The line that is to be named."""


def bad_files(folder: Path) -> dict[str, Path]:
    """Return files that are none."""
    names = ("latin", "binary", "huge", "broken", "wrong", "empty", "closed")
    found = {name: folder / f"{name}.toml" for name in names}
    found["latin"].write_bytes(b'#\nname = "B\xf6thaus"\n')
    found["binary"].write_bytes(bytes(range(256)) * 8)
    found["huge"].write_bytes(b"# " + bytes([46]) * 2**20)
    found["broken"].write_text("#\n#\n[[controllers]\nname = \x1b[2J")
    found["wrong"].write_text(one_port(folder).read_text() + "nods = 5\n")
    found["empty"].write_text("")
    found["closed"].touch()
    return found | {"missing": folder / "missing.toml", "folder": folder, "device": Path("/dev/zero")}


def test_every_command_that_takes_a_file_is_tried_with_bad_ones():
    """A new one is to be added above."""
    context = click.Context(ropewalk)
    takers = {
        name
        for name in ENTRIES
        for param in getattr(ropewalk.get_command(context, name), "params", ())
        if isinstance(param, click.Argument) and isinstance(param.type, click.Path)
    }
    assert takers == set(FILED)


@pytest.fixture(name="closed_to_us")
def _closed_to_us(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have nobody read closed.toml: permissions do not hold root back."""
    opened = Path.open

    def refusing(path: Path, *words: Any, **more: Any) -> Any:  # noqa: ANN401  as Path.open
        if path.name == "closed.toml":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return opened(path, *words, **more)

    monkeypatch.setattr(Path, "open", refusing)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("command", FILED)
@pytest.mark.usefixtures("closed_to_us")
def test_a_file_that_is_none_ends_with_1_in_words(
    monkeypatch: pytest.MonkeyPatch, folders: Path, command: str, kind: str
):
    """One rule for all commands: the file is named, and the line where there is one; what to do follows."""
    if command == "new" and kind == "missing":
        return
    monkeypatch.chdir(folders)
    monkeypatch.setattr("tui.commands._has_terminal", lambda: True)
    path = bad_files(folders)[kind]
    result = ask(command, *(path if word == "FILE" else word for word in FILED[command]))
    said = " ".join(result.output.split())
    assert result.exit_code == 1, said
    assert path.name in said
    assert "\x1b" not in result.output
    assert ". " in said, "a second sentence says what to do"
    if kind in LINED and command not in NO_DISPLAY:
        assert f"{path.name}:{LINED[kind]}:" in said
    assert not (folders / "new.pcapng").exists()


@pytest.mark.parametrize("kind", ["latin", "broken", "missing"])
def test_check_tells_what_is_wrong_as_json(folders: Path, kind: str):
    """The keys that scripts rely on."""
    done = run("check", bad_files(folders)[kind], "--json")
    assert done.code == 1
    assert set(done.json) == {"file", "ok", "problems"}
    assert done.json["ok"] is False
    assert set(done.json["problems"][0]) == {"place", "what", "instead", "line", "column"}


def test_a_file_of_the_starter_is_right_and_never_overwritten(folders: Path):
    """`new`, then `check`, then `new` again."""
    path = folders / "display.toml"
    assert ask("new", path).exit_code == 0
    text = path.read_bytes()
    done = run("check", path, "--json")
    assert done.code == 0
    assert done.json["ok"] is True
    assert set(done.json["plan"]) == {"name", "controllers", "ports", "nodes", "fixtures", "universes"}
    assert "Port-Address 19 (0:1:3)" in done.json["plan"]["universes"]
    assert "1 fixture," in ask("check", path).output
    assert ask("new", path).exit_code == 1
    assert path.read_bytes() == text
    assert ask("new", folders / "no" / "folder.toml").exit_code == 1


def test_an_unknown_interface_ends_with_1_and_lists_those_there_are():
    """Before anything is started."""
    result = ask("send", "walk", "-u", "1", "--interface", "nosuch9")
    assert result.exit_code == 1
    assert "nosuch9" in result.stderr
    assert "lo (127.0.0.1" in result.stderr


@pytest.mark.parametrize("command", [(), ("ui",), ("attach",)])
def test_a_screen_without_a_terminal_ends_with_2_and_says_what_else_there_is(command: tuple[str, ...]):
    """It needs one to draw on."""
    result = ask(*command)
    assert result.exit_code == 2
    assert "needs a terminal" in result.stderr


@pytest.mark.parametrize(
    ("variable", "command"),
    [
        ("ROPEWALK_CONFIG_DIR", ("send", "level", "-u", "1", "--seconds", "0.1", *TO)),
        ("ROPEWALK_RUNTIME_DIR", ("send", "level", "-u", "1", "--seconds", "0.1", *TO)),
        ("ROPEWALK_RUNTIME_DIR", ("runs",)),
        ("ROPEWALK_RUNTIME_DIR", ("stop", "x")),
    ],
)
def test_a_folder_that_cannot_be_had_ends_with_1(
    monkeypatch: pytest.MonkeyPatch, variable: str, command: tuple[str, ...]
):
    """Settings cannot be kept there, or no socket made: the message names the variable to set."""
    monkeypatch.setenv(variable, "/proc/nosuch")
    done = run(*command)
    assert done.code == 1
    assert variable in done.err


@pytest.mark.parametrize("name", ["nosuch", "../x", "x" * 500, "\x1b[2J"])
def test_stopping_what_does_not_run_ends_with_1(name: str):
    """Whatever is given for a name."""
    result = ask("stop", name)
    assert result.exit_code == 1
    assert "\x1b" not in result.output


def one_port(folder: Path) -> Path:
    """Write a display of one port."""
    path = folder / "display.toml"
    path.write_text(
        'name = "Jetty"\n[[controllers]]\nname = "jetty"\nprotocol = "e131"\n'
        f'address = "{ADDRESS}"\n[[controllers.ports]]\nnumber = 1\nuniverse = 1\nnodes = 5\n'
    )
    return path


@pytest.mark.parametrize(
    ("command", "code"),
    [
        (("send", "level", "--seconds", "0.2"), 1),
        (("soak", "--for", "2s"), 3),
        (("prove",), 1),
        (("find", "--port", "jetty/1"), 1),
        (("count", "--port", "jetty/1"), 1),
    ],
)
@pytest.mark.parametrize("is_e131", [True, False])
def test_what_stands_against_a_controller_names_it(
    folders: Path, command: tuple[str, ...], code: int, *, is_e131: bool
):
    """A zone that is not there; ArtSync in no network of ours (203.0.113.0/24 is RFC 5737's)."""
    address = "fe80::20%gone9" if is_e131 else "203.0.113.9"
    path = one_port(folders)
    text = path.read_text().replace(ADDRESS, address)
    if not is_e131:
        text = text.replace('"e131"', '"artnet"\nart_sync = true').replace("universe", "port_address")
    path.write_text(text)
    name, *options = command
    arguments: tuple[str | Path, ...] = (
        (options[0], path, *options[1:]) if name == "send" else (path, *options)
    )
    done = run(name, *arguments)
    said = " ".join(done.err.split())
    why = "interface 'gone9': no such interface" if is_e131 else "it is in no network of this machine's"
    assert f"controller jetty at {address}: {why}" in said
    assert ("Choose one of: lo" if is_e131 else "Leave synchronization out") in said
    assert done.code == code


@pytest.mark.parametrize("is_dark", [True, False])
def test_a_run_that_cannot_be_taken_up_has_not_ended_while_it_is_dark_by_hand(
    folders: Path, *, is_dark: bool
):
    """What starts it again, as a service does, would begin another one in its place, with the lights on.

    ArtSync in no network of ours (203.0.113.0/24 is RFC 5737's).
    """
    path = one_port(folders)
    with Journal(journal_path(path)) as journal:
        pen = journal.begin(facts(), time.time(), 0.0)
        kind = EventKind.DARKENED if is_dark else EventKind.CONTROLLER_GONE
        pen.note(event(kind, pen.clock.moment(time.time(), 0.0), "screen, process 12"))
        journal._connection.execute("UPDATE runs SET writer = 'gone'")
    text = path.read_text().replace('"e131"', '"artnet"\nart_sync = true').replace("universe", "port_address")
    path.write_text(text.replace(ADDRESS, "203.0.113.9"))
    done = run("soak", path, "--resume", "--until", "06:00")
    assert "it is in no network of this machine's" in " ".join(done.err.split())
    assert done.code == 3
    with reading(journal_path(path)) as reader:
        (last,) = reader.runs()
    assert (last.ended is None) is is_dark


def test_a_taken_port_ends_with_1_and_says_who_has_it(folders: Path):
    """The yard and the demo need the protocols' ports."""
    path = one_port(folders)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind((ADDRESS, e131.PORT))
        done = run("yard", path, "--seconds", "0.1")
        as_json = run("yard", path, "--seconds", "0.1", "--json")
    assert (done.code, as_json.code) == (1, 1)
    assert str(e131.PORT) in done.out + done.err
    assert str(e131.PORT) in as_json.json["error"]


@pytest.mark.parametrize("fault", ["jetty/1", "jetty/1=nonsense", "jetty/9=break:3", "jetty/1=break:99"])
def test_a_fault_that_cannot_be_ends_with_2_and_says_what_can(folders: Path, fault: str):
    """For the yard."""
    path = one_port(folders)
    result = ask("yard", path, "--seconds", "0.1", "--fault", fault)
    assert result.exit_code == 2
    assert "jetty/1" in result.stderr or "break:" in result.stderr


def shell(command: str) -> "subprocess.CompletedProcess[str]":
    """Run a line of the shell with ropewalk as $R."""
    return subprocess.run(
        ["bash", "-c", command],
        capture_output=True,
        text=True,
        check=False,
        timeout=LIMIT_S,
        env={**os.environ, "R": ROPEWALK},
    )


@pytest.mark.parametrize(
    "command", ["$R patterns | head -1", "$R --help | true", "$R patterns >&-", "$R patterns > /dev/full"]
)
def test_an_output_that_takes_no_more_is_no_traceback(command: str):
    """A reader that has seen enough, no output at all, a full disk."""
    done = shell(command)
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


@pytest.mark.parametrize("command", [[], *([name] for name in ENTRIES)])
def test_every_command_has_a_help_whose_first_sentence_is_in_the_list(command: list[str]):
    """One truth: the list loads no command, so it says the sentence again."""
    result = ask(*command, "--help")
    assert result.exit_code == 0
    assert max(map(len, result.output.splitlines())) <= 80
    if command:
        loaded = ropewalk.get_command(click.Context(ropewalk), command[0])
        assert loaded is not None
        assert (loaded.help or "").splitlines()[0] == ENTRIES[command[0]].sentence


def test_an_unknown_command_or_option_ends_with_2():
    """As everywhere."""
    assert ask("nosuch").exit_code == 2
    assert ask("check").exit_code == 2
    assert ask("send", "walk", "--nosuch").exit_code == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("chek", "display.toml"), "Did you mean: ropewalk check?"),
        (("display.toml",), "ropewalk ui display.toml. To check it: ropewalk check display.toml"),
        (("walk", "-u", "1"), "To play that pattern: ropewalk send walk display.toml"),
        (
            ("find", "display.toml", "jetty/1"),
            "It takes FILE alone; a name has an option before it: --port NAME",
        ),
        (
            ("send", "walk", "display.toml", "jetty/1"),
            "It takes PATTERN and FILE alone; a name has an option",
        ),
        (("runs", "boat"), "It takes options alone"),
        (("log", "display.toml", "--fixed", "jetty/1"), "Write: --fixed PORT NOTE"),
        (("count", "display.toml", "--port"), "Write: --port NAME/3"),
        (("send", "walk", "--universe", "1"), "'--universes'"),
        (("send", "walk", "-u", "1", "--level", "130"), "'130' is not a number from 0 to 100."),
        (("send", "walk", "-u", "1", "--level", "bright"), "'bright' is not a number from 0 to 100."),
        (("send", "walk", "-u", "1", "--nodes", "1.5"), "'1.5' is not a whole number from 1 to 170."),
        (("send", "walk", "-u", "1", "--seconds", "-1"), "'-1' is not a number above 0."),
        (("doctor", "display.toml", "--seconds", "61"), "'61' is not a number above 0, up to 60."),
        (("hear", "--watch", "a"), "--watch: 'a' is no universe"),
        (("send", "walk", "display.toml", "-u", "1"), "a display FILE, display.toml, and universes with -u"),
    ],
)
def test_a_command_line_that_is_not_understood_is_told_with_what_to_write(words: tuple[str, ...], says: str):
    """The next thing that is typed is right."""
    result = ask(*words)
    assert result.exit_code == 2
    assert says in " ".join(result.stderr.split())


@pytest.mark.parametrize("command", ["prove", "find", "count", "soak", "scan", "send"])
def test_an_address_that_none_is_is_told_once_and_where_it_was_written(folders: Path, command: str):
    """Not as if it stood in the file, once for each controller."""
    path = one_port(folders)
    more = {"soak": ("--for", "1s"), "scan": ("--seconds", "0.1")}.get(command, ())
    result = ask(command, *(["walk"] if command == "send" else []), path, "--to", "house.local", *more)
    assert result.exit_code == 2
    assert result.stderr.count("house.local") == 1
    assert result.stderr.startswith("--to: address is 'house.local'")
    assert result.stderr.rstrip().endswith("--to 192.168.7.20")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("log", "--csv", "--json"), "--csv and --json are different outputs: ask for one of them."),
        (("log", "--csv", "--html", "--json"), "--csv, --html and --json are different outputs"),
        (("report", "--markdown", "--list"), "--list and --markdown are different outputs"),
        (("plan", "--channels", "--html", "lid.html"), "--channels and --html are different outputs"),
        (("log", "--html", "book.html"), "To write what it prints into a file: --html > NAME"),
        (("plan", "lid.html"), "It takes FILE alone"),
        (("find", "--level", "0"), "'0' is not a number from 1 to 100."),
        (("count", "--level", "0"), "'0' is not a number from 1 to 100."),
    ],
)
def test_what_cannot_be_printed_or_seen_as_asked_is_refused(folders: Path, words: tuple[str, ...], says: str):
    """None of two forms is left out without a word; nobody answers for lights that are dark."""
    name, *options = words
    result = ask(name, one_port(folders), *options)
    assert result.exit_code == 2
    assert says in " ".join(result.stderr.split())
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("command", "example"),
    [
        ("find", "find display.toml"),
        ("replay", "replay evening.pcapng"),
        ("send", "send walk display.toml"),
    ],
)
def test_who_names_nothing_is_shown_what_one_would_write(command: str, example: str):
    """Whatever is missing first."""
    result = ask(command)
    assert result.exit_code == 2
    assert f"Such as: ropewalk {example}\n" in result.stderr


def test_help_says_ranges_in_words():
    """What may be written, without a formula; of what has no limits nothing."""
    said = " ".join(ask("send", "--help").output.split())
    assert "--nodes NUMBER With -u: RGB nodes a universe. [170] [from 1 to 170]" in said
    assert "[above 0]" in said
    for formula in ("x<=", "<=x", "x>", "None", "RANGE "):
        assert formula not in said


def test_the_lists_are_the_same_in_words_and_as_json():
    """Patterns, and interfaces with all of their addresses, those of IPv6 too."""
    patterns = run("patterns", "--json").json
    words = ask("patterns").output
    assert all(pattern["name"] in words and pattern["sentence"] in words for pattern in patterns)
    interfaces = run("interfaces", "--json").json
    assert any(each["is_loopback"] for each in interfaces)
    lines = {line.split()[0]: line for line in ask("interfaces").output.splitlines()}
    for each in interfaces:
        own = [*(ipv4["address"] for ipv4 in each["addresses"]), *each["ipv6_addresses"]]
        assert all(address in lines[each["name"]] for address in own)
