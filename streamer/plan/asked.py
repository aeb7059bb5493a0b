"""What a plan is asked for, and what is known of the machine and the network; found out at the edge."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Asked:
    """The rate to plan for."""

    rate_hz: float
    """Frames a second that are sent."""
    is_rate_said: bool = False
    """Whether the person named it: then a line that cannot follow is a fault, else a warning."""


@dataclass(frozen=True, slots=True)
class Host:
    """What stands between this machine and the controllers."""

    wireless: tuple[str, ...] = ()
    """Wireless interfaces on the way to the multicast controllers."""
    memberships_limit: int | None = None
    """Groups that one socket may join here (net.ipv4.igmp_max_memberships); None where there is no such
    limit, or none that can be read."""
