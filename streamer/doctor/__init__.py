"""What keeps levels from reaching the lights: the chain from the file to the controllers, link by link.

Judgement of facts and nothing else. Whoever examines (see `facts.Eyes`) has the sockets and the clock.
"""
