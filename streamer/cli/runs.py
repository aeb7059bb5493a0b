"""The commands on engines that run already: list them, attach to one, stop one."""

import json

import click

from streamer.cli.common import say, telling_errors
from streamer.engine.waiting import settled_status, wait_for
from streamer.errors import LinkError


def only_run(name: str | None) -> str:
    """Return the engine meant: the one named, or the only one there is."""
    from streamer.engine.client import running_engines

    if name:
        return name
    names = running_engines()
    if len(names) == 1:
        return names[0]
    raise LinkError("Nothing is running." if not names else f"Say which: {', '.join(names)}.")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
@telling_errors
def runs(*, as_json: bool) -> None:
    """List the runs that go on in the background, and what each shows."""
    from streamer.engine.client import running_engines

    states = {name: settled_status(name) for name in running_engines()}
    if as_json:
        say(json.dumps({name: status.model_dump(mode="json") for name, status in states.items()}, indent=2))
        return
    for name, status in states.items():
        showing = f"{status.show.pattern}, {status.now_showing}" if status.show else "nothing"
        say(
            f"{name}: {status.state}, {showing}; {status.universes} universes; {status.leash}; "
            f"control: {status.control or 'nobody'}"
        )
    if not states:
        say("Nothing is running.")


@click.command()
@click.argument("name", required=False)
@telling_errors
def stop(name: str | None) -> None:
    """Stop a run: lights dark, streams ended."""
    from streamer.engine.client import attach, client_name
    from streamer.engine.messages import Ended, Stop, TakeControl

    chosen = only_run(name)
    link = attach(chosen, client_name("ropewalk stop"), control=False)
    link.send(TakeControl())
    link.send(Stop())
    ended = wait_for(link, Ended)
    link.close()
    say(f"{chosen}: {ended.reason}; {ended.counts.frames} frames, {ended.counts.packets} packets.")
