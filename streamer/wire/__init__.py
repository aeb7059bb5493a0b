"""Codecs for ANSI E1.31 and Art-Net 4: datagrams to packets and back. No sockets, no clocks."""
