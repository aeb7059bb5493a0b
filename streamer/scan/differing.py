"""How a device's outputs differ from what is planned for them, in sentences."""

from collections.abc import Iterator, Sequence

from streamer.scan.devices import Device, NodePort
from streamer.scan.planned import Gate
from streamer.wire.port_address import NET_SHIFT, SUB_NET_SHIFT, split, text

LISTED = 12
"""Differences of one device told one by one; a board may have hundreds."""
NUMBERS = ("", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def differences(gates: Sequence[Gate], device: Device) -> list[str]:
    """Return a sentence for each universe that the device should listen to and does not."""
    found = list(_differences(gates, device))
    return (
        found if len(found) <= LISTED + 1 else [*found[:LISTED], f"and {len(found) - LISTED} more like this"]
    )


def _differences(gates: Sequence[Gate], device: Device) -> Iterator[str]:
    outputs = {output.number: output for output in device.outputs}
    if gates and not outputs:
        yield "it answers, but says that it has no outputs"
        return
    listens = {each.port_address for each in outputs.values() if not each.takes_e131}
    missing = [gate for gate in gates if gate.universe not in listens]
    yield from _all_alike(missing, outputs)
    planned = {gate.universe: gate.what for gate in gates}
    for gate in missing:
        output = outputs.get(gate.output)
        if output is None:
            yield f"no output listens to {text(gate.universe)}, planned for {gate.what}"
        elif output.takes_e131:
            yield f"{_named(gate)} is switched to E1.31, the plan sends it Art-Net {text(gate.universe)}"
        else:
            yield (
                f"{_named(gate)} listens to {text(output.port_address)}, the plan says "
                f"{text(gate.universe)}, {how_far(output.port_address, gate.universe)}"
                f"{_whose(output, planned)}"
            )


def _named(gate: Gate) -> str:
    """Name an output by what hangs there; by its own number as well where that is another."""
    return gate.what if gate.what == f"port {gate.output}" else f"output {gate.output} ({gate.what})"


def _all_alike(missing: Sequence[Gate], outputs: dict[int, NodePort]) -> Iterator[str]:
    """Yield one sentence for a device that is off by the same number throughout."""
    off = {
        gate.universe - outputs[gate.output].port_address if gate.output in outputs else None
        for gate in missing
    }
    (step,) = off if len(off) == 1 else (None,)
    if len(missing) > 1 and step:
        yield f"all {len(missing)} that differ do so alike: the plan is {how_far(0, step)} than the device"


def _whose(output: NodePort, planned: dict[int, str]) -> str:
    whose = planned.get(output.port_address)
    return f" (it listens to what is planned for {whose})" if whose else ""


def how_far(listens: int, planned: int) -> str:
    """Say how a planned Port-Address stands to one that is listened to: "one lower"."""
    step = planned - listens
    count = abs(step)
    words = NUMBERS[count] if count < len(NUMBERS) else str(count)
    far = f"{words} {'higher' if step > 0 else 'lower'}"
    if min(listens, planned) < 0:
        return far
    (net, sub_net, universe), (other_net, other_sub_net, other_universe) = split(listens), split(planned)
    if universe == other_universe and net == other_net and count >> SUB_NET_SHIFT:
        return f"{far}: Sub-Net {other_sub_net} instead of {sub_net}"
    if (sub_net, universe) == (other_sub_net, other_universe) and count >> NET_SHIFT:
        return f"{far}: Net {other_net} instead of {net}"
    return far


def also(gates: Sequence[Gate], device: Device) -> list[str]:
    """Return a sentence about the outputs that nothing is planned for, if there are any; no fault."""
    planned, heard = {gate.universe for gate in gates}, {each.port_address for each in device.outputs}
    told = {gate.output for gate in gates if gate.universe not in heard}
    more = [each for each in device.outputs if each.port_address not in planned and each.number not in told]
    if not more:
        return []
    listed = ", ".join(f"{each.number}: {text(each.port_address)}" for each in more[:LISTED])
    return [f"outputs that nothing is planned for: {listed}{', ...' if len(more) > LISTED else ''}"]
