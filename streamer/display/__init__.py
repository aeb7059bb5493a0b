"""The display: its file, its checks, its patch. What is computed here needs no network."""
