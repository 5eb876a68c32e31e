"""Owners of hulls: registered one by one or many at once, and as pages and papers tell them."""
