"""What becomes of levels that wait for synchronization. Source: ANSI E1.31-2018, clauses beside each."""

from dataclasses import replace
from uuid import UUID

from streamer.wire.e131 import DataPacket, Options, SyncPacket
from streamer.wire.reception import Reception, Verdict

A, B = UUID(int=1), UUID(int=2)
SYNC_ADDRESS = 7001
OLD, NEW = b"\x01", b"\x02"


def data(sequence: int, slots: bytes) -> DataPacket:
    """Make a packet of levels that wait for synchronization."""
    return DataPacket(A, "Boathouse", 1, slots, sequence, sync_address=SYNC_ADDRESS)


def synchronized() -> Reception:
    """Return a receiver that shows OLD and whose next levels are held."""
    reception = Reception()
    reception.receive(data(0, OLD), now=0.0)
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 100), now=0.0)
    return reception


def test_a_preview_takes_away_what_was_held():
    """6.2.6: a source that has gone over to previews drives no live output, also not late."""
    reception = synchronized()
    assert reception.receive(data(1, NEW), now=0.1) is Verdict.HELD
    preview = replace(data(2, b"\xff"), options=Options.PREVIEW_DATA)
    assert reception.receive(preview, now=0.2) is Verdict.PREVIEW
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 101), now=0.3)
    assert reception.levels(1) is None


def test_another_start_code_leaves_what_is_held():
    """ANSI E1.11: a packet that is not levels changes none, shown or held."""
    reception = synchronized()
    reception.receive(data(1, NEW), now=0.1)
    assert reception.receive(replace(data(2, b"\xc8"), start_code=0xDD), now=0.1) is Verdict.NOT_LEVELS
    assert reception.levels(1) == OLD
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 101), now=0.2)
    assert reception.levels(1) == NEW


def test_termination_takes_away_what_was_held():
    """6.2.6: neither the slots held nor those of the terminated packet are shown by a later release."""
    reception = synchronized()
    reception.receive(data(1, NEW), now=0.1)
    reception.receive(replace(data(2, b"\xff"), options=Options.STREAM_TERMINATED), now=0.1)
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 101), now=0.2)
    assert reception.levels(1) is None


def test_another_source_of_synchronization_is_accepted_with_any_number():
    """6.3.2 and 6.7.2: numbers belong to their source; 5.6: the CID tells sources apart."""
    reception = synchronized()
    reception.receive(data(1, NEW), now=0.1)
    assert reception.synchronize(SyncPacket(B, SYNC_ADDRESS, 99), now=0.2) is Verdict.ACCEPTED
    assert reception.levels(1) == NEW
