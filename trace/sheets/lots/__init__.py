"""A lot's sheet, put together from what was known of it at a moment."""
