"""A network that a test makes up, and a display on it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from streamer.display.file import parse
from streamer.display.model import Controller, Display, Protocol
from streamer.doctor.facts import Answered, GroupsSeen, OthersSeen, PortSeen, Returned, RunSeen, Way
from streamer.hear.conflicts import Conflict
from streamer.net.interfaces import Interface, Ipv4

CONTROLLER = """
[[controllers]]
name = "{name}"
protocol = "{protocol}"
address = "{address}"
[[controllers.ports]]
number = 1
{key} = {universe}
nodes = 2
"""
LO = Interface("lo", 1, (Ipv4("127.0.0.1", "255.0.0.0", None),), True, True, True, False, True)
SHED = Interface(
    "shed0", 2, (Ipv4("10.61.0.1", "255.255.255.0", "10.61.0.255"),), True, True, False, False, True
)
PORT = {Protocol.E131: 5568, Protocol.ARTNET: 6454}


def display(**addresses: str) -> Display:
    """Return a display: a controller for each name; a name that begins with "art" is Art-Net's."""
    text = 'name = "Lake"\n'
    for number, (name, address) in enumerate(addresses.items(), 1):
        is_artnet = name.startswith("art")
        protocol, key = ("artnet", "port_address") if is_artnet else ("e131", "universe")
        text += CONTROLLER.format(name=name, protocol=protocol, address=address, key=key, universe=number)
    return parse(text, "lake.toml")


@dataclass
class MadeUp:
    """Implements Eyes: all is well unless a field says otherwise; what was asked for is in `asked`."""

    seen: tuple[Interface, ...] = (LO, SHED)
    ways: Mapping[str, Way] = field(default_factory=dict)
    """By the address; those left out go by shed0."""
    ports: Mapping[Protocol, PortSeen] = field(default_factory=dict)
    joined: GroupsSeen | None = None
    silent: Collection[str] = ()
    """Groups that nothing comes back by."""
    answered: Mapping[str, Answered] = field(default_factory=dict)
    conflicts: tuple[Conflict, ...] = ()
    running: tuple[RunSeen, ...] = ()
    asked: list[str] = field(default_factory=list)

    def interfaces(self) -> tuple[Interface, ...]:
        """See Eyes."""
        return self.seen

    def way(self, address: str, interface: Interface | None) -> Way:
        """See Eyes."""
        return self.ways.get(address, Way(interface.name if interface else "shed0", "10.61.0.1"))

    def port(self, spoken: Protocol, interface: Interface | None) -> PortSeen:
        """See Eyes."""
        self.asked.append(f"port {spoken} on {interface.name if interface else 'all'}")
        return self.ports.get(spoken, PortSeen(PORT[spoken]))

    def join(self, universes: Sequence[int]) -> GroupsSeen:
        """See Eyes."""
        self.asked.append("join")
        return self.joined or GroupsSeen(len(universes))

    def own_multicast(self, groups: Sequence[str], interface: Interface | None) -> Returned:  # noqa: ARG002
        """See Eyes."""
        self.asked.append("own multicast")
        return Returned(tuple(groups), frozenset(groups) - frozenset(self.silent))

    def ask(
        self,
        controllers: Sequence[Controller],
        interface: Interface | None,  # noqa: ARG002
        *,
        may_poll: bool,
    ) -> Mapping[str, Answered]:
        """See Eyes."""
        self.asked.append("ask" if may_poll else "ask without polls")
        well = Answered(was_asked=True, echo_after_s=0.001, patience_s=3)
        return {each.address: self.answered.get(each.address, well) for each in controllers}

    def others(self, priorities: Mapping[tuple[Protocol, int], int]) -> OthersSeen:
        """See Eyes."""
        self.asked.append("others")
        return OthersSeen(self.conflicts, 3.0, frozenset(protocol for protocol, _ in priorities))

    def runs(self, universes: Collection[tuple[Protocol, int]]) -> tuple[RunSeen, ...]:  # noqa: ARG002
        """See Eyes."""
        self.asked.append("runs")
        return self.running
