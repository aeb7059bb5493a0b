"""The lists that commands print: interfaces to leave by, patterns to play."""

import json
from dataclasses import asdict

from patterns.plain import Pattern
from patterns.registry import all_patterns
from patterns.settle import range_of
from streamer.net.interfaces import Interface, list_interfaces


def interfaces_text(*, as_json: bool) -> str:
    """Return the interfaces, a line each or as JSON."""
    found = list_interfaces()
    if as_json:
        return json.dumps([asdict(interface) for interface in found], indent=2)
    return "\n".join(_interface_line(interface) for interface in found)


def _interface_line(interface: Interface) -> str:
    remarks = [
        "loopback: this machine only" if interface.is_loopback else "",
        "" if interface.is_up else "down",
        "no carrier: check the cable" if interface.has_carrier is False else "",
        "wireless: multicast is slow and lossy here" if interface.is_wireless else "",
    ]
    return f"{interface.name:12} {interface.addresses_text:24} {'; '.join(filter(None, remarks))}".rstrip()


def patterns_text(*, as_json: bool) -> str:
    """Return the patterns with their parameters, in paragraphs or as JSON."""
    if as_json:
        return json.dumps([_pattern_dict(pattern) for pattern in all_patterns()], indent=2)
    return "\n\n".join(_pattern_paragraph(pattern) for pattern in all_patterns())


def _pattern_dict(pattern: Pattern) -> dict[str, object]:
    return {
        "name": pattern.name,
        "sentence": pattern.sentence,
        "shows": pattern.shows,
        "pace": pattern.pace,
        "pace_limit": pattern.pace_limit,
        "params": [asdict(param) for param in pattern.params],
    }


def _pattern_paragraph(pattern: Pattern) -> str:
    lines = [f"{pattern.name}: {pattern.sentence}", f"  {pattern.shows}"]
    lines += [
        f"  -p {param.name}={param.default}   {param.sentence} ({range_of(param)})"
        for param in pattern.params
    ]
    return "\n".join(lines)
