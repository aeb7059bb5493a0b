"""The commands on engines and yards that run already: list them, stop one."""

from collections.abc import Sequence

import click

from streamer.cli.common import complain, counted, say, say_json
from streamer.display.places import plain
from streamer.engine.client import STOPPER, attach, client_name, running_engines
from streamer.engine.messages import Ended, State, Status, Stop, TakeControl
from streamer.engine.waiting import settled_status, wait_for
from streamer.errors import LinkError
from streamer.yard.client import running_yards
from streamer.yard.messages import YardStatus
from streamer.yard.others import end, status_of, yard_words

NAME_SHOWN = 60


def only_run(name: str | None) -> str:
    """Return the engine meant: the one named, or the only one there is; LinkError where that is none."""
    if name:
        return _known(name)
    # An engine whose run is over lingers for a moment; it is not what anybody means.
    names = [engine for engine, status in _states()[0].items() if status.state is not State.IDLE]
    if len(names) == 1:
        return names[0]
    if names:
        raise LinkError(f"Say which: {', '.join(names)}.")
    yards = "".join(f" But {yard} plays controllers: ropewalk stop {yard}" for yard in running_yards())
    raise LinkError(f"Nothing is running.{yards}")


def _known(name: str) -> str:
    engines = running_engines()
    if name in engines:
        return name
    if name in running_yards():
        raise LinkError(f"{name} plays controllers and sends nothing; what sends: {_listed(engines)}.")
    raise LinkError(f"Nothing called {plain(name)[:NAME_SHOWN]} is playing; what is: {_listed(engines)}.")


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) or "nothing"


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON: a status for each name; see `kind`.")
def runs(*, as_json: bool) -> None:
    """List what is playing on this machine.

    `free` goes on by itself; `leashed` goes dark and ends when its screen or command is gone. A yard plays
    controllers, and sends nothing.
    """
    states, silent = _states()
    yards = _yards()
    if as_json:
        told = {name: status.model_dump(mode="json") for name, status in states.items()}
        say_json(told | {name: _yard_dict(status) for name, status in yards.items()}, indent=2)
        return
    for name, status in states.items():
        say(_line(name, status))
        for complaint in status.complaints:
            say(f"  ! {complaint}")
    for name, yard in yards.items():
        say(f"{name}: {yard_words(yard)}")
        if yard.note:
            say(f"  ! {plain(yard.note)}")
    if not (states or silent or yards):
        say("Nothing is running.")


def _states() -> tuple[dict[str, Status], list[str]]:
    """Return what each engine is doing, and the names of those that are there and do not say."""
    states, silent = {}, []
    for name in running_engines():
        try:
            states[name] = settled_status(name)
        except LinkError as error:
            # One that ended between the list and the look is nothing to complain of.
            if name in running_engines():
                silent.append(name)
                complain(f"{name}: {error}")
    return states, silent


def _yards() -> dict[str, YardStatus]:
    """Return what each yard says of itself; of one that does not it is complained."""
    found = {}
    for name in running_yards():
        try:
            found[name] = status_of(name)
        except LinkError as error:
            if name in running_yards():
                complain(f"{name}: {error}")
    return found


def _yard_dict(status: YardStatus) -> dict[str, object]:
    return {
        "kind": "yard",
        "display": status.display,
        "started_by": status.started_by,
        "ports": [port.model_dump(mode="json") for port in status.ports],
        "note": status.note,
    }


def _line(name: str, status: Status) -> str:
    showing = f"{status.show.pattern}, {status.now_showing}" if status.show else "nothing"
    return (
        f"{name}: {status.state}, {showing}; {counted(status.universes, 'universe')}; {status.leash}; "
        f"control: {status.control or 'nobody'}"
    )


@click.command()
@click.argument("name", required=False)
def stop(name: str | None) -> None:
    """Stop something that is playing: lights dark, streams ended.

    NAME is one that `ropewalk runs` lists; it may be left out where only one is playing. A yard is ended by
    its name.
    """
    if name in running_yards():
        end(name)
        say(f"{name}: ended; nobody plays the controllers any more.")
        return
    chosen = only_run(name)
    link = attach(chosen, client_name(STOPPER), control=False)
    try:
        link.send(TakeControl())
        link.send(Stop())
        ended = wait_for(link, Ended)
    finally:
        link.close()
    counts = f"{counted(ended.counts.frames, 'frame')}, {counted(ended.counts.packets, 'packet')}"
    say(f"{chosen}: {ended.reason}; {counts}.")
