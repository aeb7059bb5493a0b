"""Capture files of the pcapng format: datagrams written to one, and read from one."""
