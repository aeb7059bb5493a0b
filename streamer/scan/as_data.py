"""What a scan found as plain data, for `ropewalk scan --json`."""

from dataclasses import asdict
from typing import Any

from streamer.scan.comparing import Comparison
from streamer.scan.found import Found


def as_dict(found: Found, comparison: Comparison | None) -> dict[str, Any]:
    """Return it; `comparison` is None where no display file was given."""
    return {
        "seconds": found.seconds,
        "polls": found.polls,
        "broadcasts": found.broadcasts,
        "singles": found.singles,
        "devices": [_timed(asdict(device), found.now_s) for device in found.devices],
        "sources": [asdict(source) for source in found.sources],
        "notes": found.notes,
        "comparison": None
        if comparison is None
        else {**asdict(comparison), "is_as_planned": comparison.is_as_planned},
    }


def _timed(device: dict[str, Any], now_s: float) -> dict[str, Any]:
    """Say how long ago instead of when on a clock that nobody else has."""
    for name in ("first_s", "heard_s"):
        device[f"{name}_ago"] = now_s - device.pop(name)
    return device
