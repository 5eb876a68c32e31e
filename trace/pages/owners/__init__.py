"""Owners at the desk: registered by half a plate or a pasted table, taken back, and their words erased."""
