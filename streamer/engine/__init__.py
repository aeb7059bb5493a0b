"""The engine: pattern -> limits -> patch -> packets -> network, on a frame clock, in its own process."""
