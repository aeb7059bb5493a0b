"""Guided fault finding: hypotheses, looks, answers, verdict. No sockets, no clocks, no terminal."""
