"""The terminal screen: it shows what the engine says and asks for what a person wants. It decides nothing."""
