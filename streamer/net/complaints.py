"""What a sender keeps count of, and how a refusal by the operating system reads to a person."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from streamer.net.destinations import Destination

MOST_COMPLAINTS = 100
"""Distinct complaints kept; without a bound a plan of thousands of dead destinations would fill a screen."""

ABOUT_ONE_DESTINATION = frozenset({"ECONNREFUSED", "EHOSTUNREACH", "EMSGSIZE"})
"""Worth a complaint for each address; any other refusal is this machine's and is said once."""

SENTENCES = {
    "ENETUNREACH": (
        "this machine has no way to that network",
        "Check that the cable or Wi-Fi is up and has an address in that network, or choose another interface",
    ),
    "EHOSTUNREACH": (
        "nothing answers at that address",
        "Check the controller's power, its cable and its address",
    ),
    "ECONNREFUSED": (
        "the host is there, but nothing listens on that port",
        "Check that it is the controller, and that its protocol is switched on",
    ),
    "ENOBUFS": (
        "the interface's queue is full and packets are lost",
        "Send fewer universes or frames a second, or use a faster link",
    ),
    "EAGAIN": (
        "the socket's send buffer is full and packets are lost",
        "Send fewer universes or frames a second, or use a faster link",
    ),
    "EPERM": (
        "this machine's firewall forbids it",
        "Allow outgoing UDP to that address and port",
    ),
    "EACCES": (
        "the system forbids it: a broadcast address that was not asked for, or a prohibiting route",
        "Ask for broadcast, or correct the address or the routes",
    ),
    "ENODEV": (
        "the chosen interface is gone",
        "Plug the adapter in again; sending resumes when an interface of that name is back",
    ),
    "EADDRNOTAVAIL": (
        "the chosen interface has lost its address",
        "Give it an address again; sending resumes by itself",
    ),
    "ENETDOWN": (
        "the interface is down",
        "Switch it on, or choose another interface",
    ),
    "EAFNOSUPPORT": (
        "this machine does not speak that kind of address",
        "Switch IPv6 on, or use the controller's IPv4 address",
    ),
    "EMSGSIZE": (
        "the packet is larger than the way there lets through",
        "Set the interface's MTU to at least 1500 octets",
    ),
}
"""What is wrong, and what to do, by the name of the errno: errno(3), udp(7), ip(7)."""

OTHERWISE = "Look that name up in errno(3), or try another interface"


def error_sentence(errno_name: str, destination: Destination) -> str:
    """Return what is wrong and what to do, for the name of an errno such as "ENETUNREACH"."""
    what, instead = SENTENCES.get(errno_name, (f"the system refuses to send ({errno_name})", OTHERWISE))
    return f"{destination[0]} port {destination[1]}: {what}. {instead}"


@dataclass(slots=True)
class SendCounters:
    """What became of everything that was to be sent, since the sender was made."""

    packets: int = 0
    """Accepted by the operating system; what the network did with them is not known."""
    octets: int = 0
    """Of UDP payload, in those packets."""
    errors: Counter[str] = field(default_factory=Counter)
    """By the errno's name, such as "ENETUNREACH"."""


class Accounts:
    """Keeps a sender's counters and its complaints; senders derive from it."""

    def __init__(self) -> None:
        self.counters = SendCounters()
        self._sentences: dict[tuple[str, str], str] = {}
        self._complaints: dict[str, int] = {}

    @property
    def complaints(self) -> Mapping[str, int]:
        """How many packets were refused so far, by what is wrong as a sentence with what to do."""
        return self._complaints

    @property
    def ways(self) -> Mapping[str, str]:
        """How packets go to each address, where the sender chooses among several ways."""
        return {}

    def accepted(self, octets: int, packets: int = 1) -> None:
        """Count packets that have gone."""
        self.counters.packets += packets
        self.counters.octets += octets

    def _refused(self, errno_name: str, destination: Destination, packets: int = 1) -> None:
        self.counters.errors[errno_name] += packets
        complaint = errno_name, destination[0] if errno_name in ABOUT_ONE_DESTINATION else ""
        if complaint not in self._sentences and len(self._sentences) < MOST_COMPLAINTS:
            self._sentences[complaint] = error_sentence(errno_name, destination)
        sentence = self._sentences.get(complaint)
        if sentence is not None:
            self._complaints[sentence] = self._complaints.get(sentence, 0) + packets
