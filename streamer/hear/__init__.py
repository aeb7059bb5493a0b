"""What is on the wire: who sends which universe, how it arrives, who wins. It sends nothing."""
