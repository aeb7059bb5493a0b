"""What a night run watches, one file each; each is a `streamer.soak.findings.Watch`."""
