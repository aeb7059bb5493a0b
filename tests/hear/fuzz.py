"""A coverage-guided fuzz of the listener: `python -m tests.hear.fuzz FOLDER -max_total_time=600`.

Not a test, and it needs `atheris`; `test_corpus` replays what it found worth keeping. A case is a few
datagrams: for each an octet for the protocol and the time to wait before it, two for its length, the payload.
"""

import sys

from streamer.cli.heard import events, table
from streamer.cli.levels import watched_lines
from streamer.display.model import Protocol
from streamer.errors import PacketError
from streamer.hear.facts import read
from streamer.wire.screening import is_other_artnet, may_be_artnet, may_be_e131
from tests.hear.bench import ADDRESS, Bench, arrivals

DATAGRAMS_MAX = 12
HEAD_OCTETS = 3
STEP_S = 0.7


def datagrams(case: bytes) -> list[tuple[Protocol, float, bytes]]:
    """Cut a case into protocols, times to wait before, and payloads."""
    found: list[tuple[Protocol, float, bytes]] = []
    while len(case) > HEAD_OCTETS and len(found) < DATAGRAMS_MAX:
        kind, length = case[0], int.from_bytes(case[1:HEAD_OCTETS], "big") % 1600
        protocol = list(Protocol)[kind & 1]
        found.append((protocol, (kind >> 1 & 7) * STEP_S, case[HEAD_OCTETS : HEAD_OCTETS + length]))
        case = case[HEAD_OCTETS + length :]
    return found


def case_of(*parts: tuple[Protocol, int, bytes]) -> bytes:
    """Put a case together from protocols, steps to wait before, and payloads."""
    return b"".join(
        bytes([list(Protocol).index(protocol) | steps << 1]) + len(payload).to_bytes(2, "big") + payload
        for protocol, steps, payload in parts
    )


def try_case(case: bytes) -> None:
    """Hear a case and say everything about it; raises where anything is not as promised."""
    bench = Bench()
    bench.table.watch(Protocol.E131, 1, 1)
    for protocol, wait_s, payload in datagrams(case):
        bench.now += wait_s
        _check_screen(protocol, payload)
        bench.give(payload, protocol=protocol)
        bench.table.close_window(bench.now)
    heard = bench.table.heard([], bench.now)
    assert heard.model_validate_json(heard.model_dump_json()) == heard
    lines = [*table(heard), *events(None, heard), *watched_lines(heard)]
    lines += [bench.table.books[protocol].last_malformed() for protocol in Protocol]
    assert all(line.isprintable() for line in lines)


def _check_screen(protocol: Protocol, payload: bytes) -> None:
    one = arrivals([(payload, ADDRESS, 0.0)])
    if protocol is Protocol.E131:
        passes = may_be_e131(one.octets, one.lengths)[0]
    else:
        passes = may_be_artnet(one.octets, one.lengths)[0] or is_other_artnet(one.octets, one.lengths)[0]
    try:
        read(protocol, one.octets[0, : one.lengths[0]].tobytes(), ADDRESS)
    except PacketError:
        return
    assert passes, "a good packet is screened out"


def main() -> None:
    """Fuzz until told to stop."""
    import atheris

    atheris.instrument_all()
    atheris.Setup(sys.argv, try_case)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
