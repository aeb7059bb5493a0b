"""A display sent elsewhere: what is wrong with an address is told once, where the command line has it."""

from collections.abc import Iterator, Sequence

from streamer.display.addresses import address_fault
from streamer.display.model import Display, Protocol
from streamer.display.ranges import readdress
from streamer.errors import PlanError, Problem


def sent_to(display: Display, addresses: Sequence[str]) -> Display:
    """Return the display with all its controllers at these addresses, itself for none; PlanError."""
    check_addresses(addresses, None)
    return readdress(display, tuple(addresses)) if addresses else display


def check_addresses(addresses: Sequence[str], protocol: Protocol | None) -> None:
    """Raise PlanError for what no controller of this protocol can have, without one none of E1.31."""
    problems = [problem for each in addresses for problem in _wrong_address(each, protocol)]
    if problems:
        raise PlanError(problems)


def _wrong_address(address: str, protocol: Protocol | None) -> Iterator[Problem]:
    # What a display file's controllers cannot do with it is found when they are sent there.
    fault = address_fault(address, protocol or Protocol.E131)
    if fault:
        yield Problem("--to", fault.what, f"{fault.instead}: --to {fault.address}")
