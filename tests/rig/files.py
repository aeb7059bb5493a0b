"""What the rigs' display files have in common."""

JETTY = """
[[controllers]]
name = "jetty"
protocol = "e131"
address = "10.61.0.2"
[[controllers.ports]]
number = 1
universe = 1
segments = [{ nodes = 100 }]
"""
"""One string of 100 nodes on the far host."""
