"""Captures: what was on the wire kept in a file, and streamed back out of one."""
