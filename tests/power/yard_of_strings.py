"""Strings to reckon with, and a display of them; nothing here computes."""

from dataclasses import dataclass
from typing import Any

from streamer.display.electrics import Drive, Injection, Lead, NodeKind, Supply, Wire
from streamer.display.model import Controller, Display, Port, Protocol, Segment

AWG_18, AWG_20 = Wire(awg=18), Wire(awg=20)


@dataclass(frozen=True)
class Made:
    """A string of nodes that draw `ma` in red, and nothing else."""

    nodes: int = 50
    ma: float = 55.0
    apart_mm: float = 100.0
    wire: Wire = AWG_20
    volts: float = 5.0
    volts_min: float = 0.5
    drive: Drive = Drive.CONSTANT_CURRENT
    idle_ma: float = 0.0

    def port(self, number: int = 1, **more: Any) -> Port:
        """Return it on a port."""
        return Port(**{
            "name": f"jetty/{number}", "number": number, "universe": 1 + 20 * number, "node_kind": "made",
            "segments": (Segment(nodes=self.nodes, spacing_mm=self.apart_mm),), "wire": self.wire,
            "supply": "shed", **more,
        })  # fmt: skip

    def kind(self) -> NodeKind:
        """Return its kind of node."""
        return NodeKind(
            name="made", drive=self.drive, volts=self.volts, volts_min=self.volts_min,
            full_ma=(self.ma, 0.0, 0.0), idle_ma=self.idle_ma,
        )  # fmt: skip

    def display(self, *ports: Port, supplies: tuple[Supply, ...] = (), **more: Any) -> Display:
        """Return a display of ports of such strings: of one with these settings unless they are given."""
        shed = Supply(name="shed", volts=self.volts, amps=1000)
        jetty = Controller(
            name="jetty",
            protocol=Protocol.E131,
            address="127.0.0.1",
            ports=ports or (self.port(**more),),
        )
        return Display(
            name="boathouse", controllers=(jetty,), supplies=(shed, *supplies), node_kinds=(self.kind(),)
        )


def lead(metres: float, wire: Wire = AWG_18) -> Lead:
    """Return a lead."""
    return Lead(length_m=metres, wire=wire)


def injection(after: int, metres: float, wire: Wire = AWG_18, **more: Any) -> Injection:
    """Return a second feed."""
    return Injection(after=after, lead=lead(metres, wire), **more)
