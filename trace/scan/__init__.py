"""The floor: station pages and what they post."""
