"""Currents, voltages along the strings, fuses and supplies: pure computation on a display."""
