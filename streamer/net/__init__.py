"""Sockets and interfaces: sending, receiving, saying what the system refuses. No protocol in here."""
