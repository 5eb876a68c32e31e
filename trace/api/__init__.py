"""For other systems: the genealogy and the rules as JSON, with a description of both."""
