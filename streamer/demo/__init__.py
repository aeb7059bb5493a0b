"""The demo: an invented display, its virtual controllers, and a witness who checks every packet."""
