"""What a person should know of what is heard, in sentences: dropped here, left out, in each other's way."""

from collections.abc import Iterator, Sequence

from streamer.display.numbering import PROTOCOL_NAME
from streamer.hear.messages import SocketHeard, SourceHeard, Standing, UniverseHeard
from streamer.hear.streams import SOURCES_MAX, UNIVERSES_MAX

LISTED = 8
"""More of one kind are counted."""
BUFFER_ADVICE = "Allow a larger buffer: sysctl -w net.core.rmem_max=16777216"


def notes(universes: Sequence[UniverseHeard], sockets: Sequence[SocketHeard]) -> tuple[str, ...]:
    """Return the sentences, the gravest first."""
    shared = list(_shared(universes))
    more = [f"And {len(shared) - LISTED} more universes like this."] if len(shared) > LISTED else []
    return (*_of_sockets(sockets), *shared[:LISTED], *more)


def _of_sockets(sockets: Sequence[SocketHeard]) -> Iterator[str]:
    for each in sockets:
        name = PROTOCOL_NAME[each.protocol]
        if each.dropped:
            yield (
                f"{each.dropped} {name} datagrams were dropped in this machine, not on the wire: "
                f"the buffer of {each.buffer_octets:,} octets was full. "
                "What each source lost by that is told apart. "
                f"{BUFFER_ADVICE}"
            )
        if each.beside:
            yield (
                f"Port {each.port} is also held by {each.beside}: what is sent to this machine alone goes "
                "there and is not heard here."
            )
        if each.refused or each.forgotten:
            yield (
                f"{name} comes from more sources than are remembered ({SOURCES_MAX} a universe, "
                f"{UNIVERSES_MAX} universes): {each.refused} packets passed over, "
                f"{each.forgotten} old sources forgotten."
            )
        if each.malformed:
            latest = f", the latest {each.last_malformed}" if each.last_malformed else ""
            yield f"{each.malformed} datagrams on port {each.port} are no {name}{latest}."


def _shared(universes: Sequence[UniverseHeard]) -> Iterator[str]:
    for universe in universes:
        sharing = [source for source in universe.sources if source.standing is Standing.SHARES]
        if sharing:
            names = " and ".join(source_text(source) for source in sharing[:LISTED])
            how = "" if sharing[0].priority is None else f" at priority {sharing[0].priority}"
            yield f"{universe.text}: {names} send{how}; a receiver merges them or chooses one, as it is made."


def source_text(source: SourceHeard) -> str:
    """Return how a source is called: "'Boathouse' at 192.168.7.2"."""
    return f"'{source.name}' at {source.address}" if source.name else source.address
