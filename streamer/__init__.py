"""Ropewalk's engine room: everything except the patterns and the screens. No terminal code in here."""
