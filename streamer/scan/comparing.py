"""What was found beside what a display file plans: where they agree, where not, and how."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from streamer.display.model import Display, Protocol
from streamer.display.patch import compile_patch
from streamer.net.destinations import LIMITED_BROADCAST
from streamer.scan.devices import Device
from streamer.scan.differing import LISTED, also, differences
from streamer.scan.found import Found, Source
from streamer.scan.planned import Gate, Planned, planned_of
from streamer.scan.runs import runs_text
from streamer.scan.status import SHORT
from streamer.wire.port_address import text

NOT_ASKED = (
    "nothing answers polls there; E1.31 has no question that a receiver must answer: look, or use find"
)


class Verdict(StrEnum):
    """How what is planned and what was found agree."""

    AS_PLANNED = "as planned"
    THERE = "is there"
    """An E1.31 receiver that answers Art-Net's polls; its E1.31 universes cannot be asked for."""
    OTHERWISE = "addressed otherwise"
    MISSING = "not found"
    UNKNOWN = "cannot be asked"
    """An E1.31 receiver that does not answer Art-Net's polls as well."""
    UNPLANNED = "not planned"


@dataclass(frozen=True, slots=True)
class Compared:
    """One planned address, or one device that nothing is planned for."""

    verdict: Verdict
    name: str
    """Of the controllers in the display file, or of the device."""
    protocol: Protocol
    address: str
    device: str
    """The address of the device that it was compared with, "" for none."""
    sentences: tuple[str, ...]
    """How it differs, and what else should be known."""


@dataclass(frozen=True, slots=True)
class Announced:
    """A source that announces universes which the display uses."""

    name: str
    address: str
    universes: tuple[int, ...]
    """Those that both have."""
    sentence: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """A display file beside a network."""

    display: str
    """Its name."""
    rows: tuple[Compared, ...]
    """What is planned, in the order of the file; then what is not planned."""
    announced: tuple[Announced, ...]

    @property
    def is_as_planned(self) -> bool:
        """Whether nothing planned is missing or addressed otherwise."""
        return not any(row.verdict in {Verdict.OTHERWISE, Verdict.MISSING} for row in self.rows)


def compare(display: Display, found: Found, own_cid: str = "") -> Comparison:
    """Compare a display that has passed its checks with what was found; `own_cid`: of the run that asks."""
    plans = planned_of(display)
    places = {plan.address for plan in plans}
    strangers = [device for device in found.devices if device.address not in places]
    rows = [_compared(plan, found, strangers) for plan in plans]
    taken = {row.device for row in rows}
    listeners = {gate.universe for plan in plans if _is_for_all(plan, found) for gate in plan.gates}
    rows += [
        _unplanned(device)
        for device in strangers
        if device.address not in taken and not any(each.port_address in listeners for each in device.outputs)
    ]
    others = [source for source in found.sources if source.cid != own_cid]
    return Comparison(display.name, tuple(rows), tuple(_announced(display, others)))


def _compared(plan: Planned, found: Found, strangers: Sequence[Device]) -> Compared:
    if plan.protocol is Protocol.E131:
        return _compared_e131(plan, found)
    if _is_for_all(plan, found):
        return _compared_all(plan, found)
    there = _at(plan.address, found)
    if not there:
        return _elsewhere(plan, strangers)
    device, *others = there
    different = differences(plan.gates, device)
    sentences = [*different, *_twice(device, others), *also(plan.gates, device), *_condition(device)]
    if not device.is_there:
        silent = f"it answered before, and has been silent for {found.now_s - device.heard_s:.0f} s"
        return _row(Verdict.MISSING, plan, device.address, [silent, *sentences])
    is_right = not different and not others
    return _row(Verdict.AS_PLANNED if is_right else Verdict.OTHERWISE, plan, device.address, sentences)


def _row(verdict: Verdict, plan: Planned, device: str, sentences: Sequence[str]) -> Compared:
    return Compared(verdict, plan.name, plan.protocol, plan.address, device, tuple(sentences))


def _at(address: str, found: Found) -> list[Device]:
    """Return the devices that say this address; first the one whose replies do come from there."""
    there = [device for device in found.devices if device.address == address]
    return sorted(there, key=lambda device: (device.source != address, not device.is_there))


def _twice(device: Device, others: Sequence[Device]) -> Iterator[str]:
    for other in others[:LISTED]:
        yield (
            f"two devices say that they have this address: '{device.name}' (from {device.source}) and "
            f"'{other.name}' (from {other.source}). Give one of them another"
        )


def _condition(device: Device) -> Iterator[str]:
    if device.restarts:
        yield f"it was switched off and on meanwhile: {device.restart}"
    shorts = [str(port.number) for port in device.outputs if SHORT in port.status]
    if shorts:
        yield f"it reports a short circuit on output {', '.join(shorts)}: switch off before you look"


def _elsewhere(plan: Planned, strangers: Sequence[Device]) -> Compared:
    """Look for a device with these Port-Addresses, or of this name, at an address that is not planned."""
    wanted = {gate.universe for gate in plan.gates}
    for device in strangers:
        has_all = wanted and wanted <= {each.port_address for each in device.outputs}
        if device.is_there and (has_all or device.short_name in plan.names):
            why = "it has the Port-Addresses" if has_all else "it has the name"
            here = f"at {device.address} {why} that are planned for {plan.address}"
            here = here if has_all else here.replace("that are", "that is")
            return _row(Verdict.OTHERWISE, plan, device.address, [here, *differences(plan.gates, device)])
    return _row(Verdict.MISSING, plan, "", ["nothing answers there: check its power, its cable, its address"])


def _compared_e131(plan: Planned, found: Found) -> Compared:
    there = _at(plan.address, found)
    if not there or not there[0].is_there:
        return _row(Verdict.UNKNOWN, plan, "", [NOT_ASKED])
    device = there[0]
    told = "to which E1.31 universes it listens, no answer says"
    return _row(Verdict.THERE, plan, device.address, [told, *_condition(device)])


def _is_for_all(plan: Planned, found: Found) -> bool:
    return plan.protocol is Protocol.ARTNET and plan.address in {*found.broadcasts, LIMITED_BROADCAST}


def _compared_all(plan: Planned, found: Found) -> Compared:
    """Compare what is sent to everybody: somebody should listen to each of its Port-Addresses."""
    heard = {port.port_address for device in found.devices if device.is_there for port in device.outputs}
    deaf = [gate for gate in plan.gates if gate.universe not in heard]
    sentences = [_deaf(gate) for gate in deaf[:LISTED]]
    if len(deaf) > LISTED:
        sentences.append(f"and {len(deaf) - LISTED} more like this")
    nobody = len(deaf) == len(plan.gates)
    verdict = Verdict.AS_PLANNED if not deaf else Verdict.MISSING if nobody else Verdict.OTHERWISE
    return _row(verdict, plan, "", sentences)


def _deaf(gate: Gate) -> str:
    return f"nobody listens to {text(gate.universe)}, planned for {gate.what}"


def _unplanned(device: Device) -> Compared:
    listens = ", ".join(text(each.port_address) for each in device.outputs[:LISTED])
    more = ", ..." if len(device.outputs) > LISTED else ""
    sentences = [f"it listens to {listens}{more}" if listens else "it has no outputs"]
    return Compared(
        Verdict.UNPLANNED,
        device.name,
        Protocol.ARTNET,
        device.address,
        device.address,
        (*sentences, *_condition(device)),
    )


def _announced(display: Display, sources: Sequence[Source]) -> Iterator[Announced]:
    streams = compile_patch(display).streams
    used = {each.key.universe for each in streams if each.key.protocol is Protocol.E131}
    for source in sources:
        both = tuple(universe for universe in source.universes if universe in used)
        if both:
            what = "universe" if len(both) == 1 else "universes"
            sentence = (
                f"'{source.name}' at {source.address} announces {what} {runs_text(both)}, which this display "
                "uses: if it is not to play now, end it there"
            )
            yield Announced(source.name, source.address, both, sentence)
