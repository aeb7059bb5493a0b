"""Files of SQLite beside the display file: what is committed is on the disk, refusals are told in words."""
