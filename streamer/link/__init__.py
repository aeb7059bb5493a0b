"""How Ropewalk's own processes speak to each other on one machine: a local socket and a shared frame.

Only this user can open either. What is said over the socket is up to the rooms that use it.
"""
