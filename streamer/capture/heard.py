"""What a listener reads, as datagrams to be kept."""

from collections.abc import Iterator
from sys import byteorder

from streamer.capture.datagram import Datagram
from streamer.net.arrivals import Arrivals, address_text, destination_text
from streamer.net.destinations import ANYWHERE
from streamer.net.listener import Moment

NS_PER_S = 1e9
_IS_LITTLE = byteorder == "little"


def datagrams(arrivals: Arrivals, moment: Moment, to_port: int) -> Iterator[Datagram]:
    """Yield arrivals one by one, stamped with the wall clock; where to is 0.0.0.0 if it is not known."""
    stamps_ns = moment.wall_ns + ((arrivals.heard_s - moment.now_s) * NS_PER_S).astype("int64")
    from_ports = arrivals.ports.byteswap() if _IS_LITTLE else arrivals.ports
    for row, (length, stamp_ns, port) in enumerate(
        zip(arrivals.lengths.tolist(), stamps_ns.tolist(), from_ports.tolist(), strict=True)
    ):
        source = address_text(arrivals.names[row])
        destination = destination_text(arrivals.destinations[row]) or ANYWHERE
        yield Datagram(
            stamp_ns, (source, port), (destination, to_port), arrivals.octets[row, :length].tobytes()
        )
