"""A whole invented year of the plant, about 600 mouldings: written first as a script, then told through record()."""
