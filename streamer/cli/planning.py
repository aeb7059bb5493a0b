"""What `ropewalk plan` finds out at the edge: interfaces, limits, the frame now sent; and its page."""

from pathlib import Path
from tempfile import TemporaryDirectory

from streamer.cli.sent_now import sent_now
from streamer.display.model import Display
from streamer.display.places import plain
from streamer.engine.messages import LEVEL_DEFAULT_PERCENT, RATE_DEFAULT_HZ
from streamer.engine.outlet import ANY_GROUP
from streamer.errors import FileError, Problem
from streamer.net.interfaces import Interface, find_interface, interface_towards
from streamer.net.memberships import memberships_limit
from streamer.plan.asked import Asked, Host
from streamer.plan.electricity import Power, power_of
from streamer.plan.page import MARK, page_of
from streamer.plan.report import DisplayPlan
from streamer.power.plan import power_plan

NOT_ASKED = "The frame now being sent was not looked at: ask with --now."


def asked_of(rate_hz: float | None) -> Asked:
    """Return what is planned for; without a rate, the one that `send` has without one."""
    return Asked(RATE_DEFAULT_HZ if rate_hz is None else rate_hz, is_rate_said=rate_hz is not None)


def reckoned_power(display: Display, level_percent: float | None, *, is_now: bool) -> Power:
    """Return the power at a level, without one that of `send`; and of the frame now sent, where wanted."""
    nodes, words = sent_now(display) if is_now else (None, NOT_ASKED)
    level = LEVEL_DEFAULT_PERCENT if level_percent is None else level_percent
    return power_of(display, power_plan(display, level, nodes), words)


def host_of(display: Display, interface: str | None, *, wireless: bool | None) -> Host:
    """Return what stands between; `wireless` is what the person says of the way, None if nothing.

    Raises NetworkError when there is no such interface.
    """
    chosen = find_interface(interface) if interface else None
    if wireless is None:
        ways = _multicast_ways(display, chosen)
        names = tuple(way.name for way in ways if way.is_wireless)
    else:
        names = ((chosen.name if chosen else "link"),) if wireless else ()
    return Host(names, memberships_limit())


def _multicast_ways(display: Display, chosen: Interface | None) -> list[Interface]:
    groups = {ANY_GROUP[each.address] for each in display.controllers if each.address in ANY_GROUP}
    if chosen and groups:
        return [chosen]
    ways = {way.name: way for group in groups if (way := interface_towards(group))}
    return [ways[name] for name in sorted(ways)]


def write_page(made: DisplayPlan, display: Display, path: Path) -> str:
    """Write the page whole or not at all, only over an earlier page of ours. Raises `FileError`."""
    name = plain(str(path))
    try:
        if path.exists() and not _is_page(path):
            what = "there is already something else of this name, and it is left as it is"
            raise FileError([Problem(name, what, "Give another name")])
        with TemporaryDirectory(dir=path.parent, prefix=".ropewalk-") as folder:
            draft = Path(folder) / "draft"
            draft.write_text(page_of(made, display), "utf-8")
            draft.replace(path)
    except (OSError, ValueError) as error:
        what = f"the page cannot be written ({plain(str(error))})"
        raise FileError([Problem(name, what, "Give a name in a folder that you may write to")]) from error
    return f"{name}: written. Open it in a browser, print it, and tape it inside the lid."


def _is_page(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(MARK)) == MARK.encode()
