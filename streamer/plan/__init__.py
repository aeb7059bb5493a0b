"""What a display asks of lines, controllers and network before anything hangs: computed, never printed."""
