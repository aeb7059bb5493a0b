"""The morning after a night run: what the journal says, judged and told on one page."""
