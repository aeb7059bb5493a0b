"""Pictures that were made lately: most patterns come round again within some hundred steps."""

from typing import Generic, TypeVar

Picture = TypeVar("Picture")
OVERHEAD_OCTETS = 2048
"""Measured: what a picture takes beside its lights, being some objects and arrays of a few numbers each."""


class Recent(Generic[Picture]):
    """Pictures by their steps, of no more than so many octets in all: the oldest make way for new ones."""

    def __init__(self, most_octets: int) -> None:
        self._most_octets = most_octets
        self._octets = 0
        self._kept: dict[int, tuple[Picture, int]] = {}

    def at(self, step: int) -> Picture | None:
        """Return the picture of a step, if it is kept."""
        kept = self._kept.get(step)
        return kept[0] if kept else None

    def keep(self, step: int, picture: Picture, octets: int) -> None:
        """Keep the picture of a step that is not kept yet; its lights are so many octets."""
        self._kept[step] = picture, octets + OVERHEAD_OCTETS
        self._octets += octets + OVERHEAD_OCTETS
        while self._octets > self._most_octets and len(self._kept) > 1:
            self._octets -= self._kept.pop(next(iter(self._kept)))[1]
