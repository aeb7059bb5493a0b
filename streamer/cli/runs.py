"""The commands on engines that run already: list them, stop one."""

import click

from streamer.cli.common import complain, counted, say, say_json
from streamer.engine.client import attach, client_name, running_engines
from streamer.engine.messages import Ended, State, Status, Stop, TakeControl
from streamer.engine.waiting import settled_status, wait_for
from streamer.errors import LinkError


def only_run(name: str | None) -> str:
    """Return the engine meant: the one named, or the only one there is."""
    if name:
        return name
    # An engine whose run is over lingers for a moment; it is not what anybody means.
    names = [engine for engine, status in _states()[0].items() if status.state is not State.IDLE]
    if len(names) == 1:
        return names[0]
    raise LinkError("Nothing is running." if not names else f"Say which: {', '.join(names)}.")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON: a status for each name.")
def runs(*, as_json: bool) -> None:
    """List what is playing on this machine.

    `free` goes on by itself; `leashed` goes dark and ends when its screen or command is gone.
    """
    states, silent = _states()
    if as_json:
        say_json({name: status.model_dump(mode="json") for name, status in states.items()}, indent=2)
        return
    for name, status in states.items():
        say(_line(name, status))
        for complaint in status.complaints:
            say(f"  ! {complaint}")
    if not states and not silent:
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

    NAME is one that `ropewalk runs` lists; it may be left out where there is only one.
    """
    chosen = only_run(name)
    link = attach(chosen, client_name("ropewalk stop"), control=False)
    try:
        link.send(TakeControl())
        link.send(Stop())
        ended = wait_for(link, Ended)
    finally:
        link.close()
    counts = f"{counted(ended.counts.frames, 'frame')}, {counted(ended.counts.packets, 'packet')}"
    say(f"{chosen}: {ended.reason}; {counts}.")
