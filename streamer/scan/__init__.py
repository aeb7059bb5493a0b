"""Which Art-Net nodes and E1.31 sources are on the network, and whether the display file plans them so."""
