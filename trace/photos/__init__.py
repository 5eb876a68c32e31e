"""Photos: read for the codes in them, and kept as evidence of what a record names."""
