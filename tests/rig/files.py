"""What the rigs' display files have in common."""


def e131_string(name: str, address: str, universe: int) -> str:
    """Return a controller of one string of 100 nodes."""
    return f"""
[[controllers]]
name = "{name}"
protocol = "e131"
address = "{address}"
[[controllers.ports]]
number = 1
universe = {universe}
segments = [{{ nodes = 100 }}]
"""


JETTY = e131_string("jetty", "10.61.0.2", 1)
"""On the far host."""
