"""The yard: virtual controllers on loopback that receive real packets, and can be given faults."""
