"""What befell a hull as EPCIS 2.0 events (GS1, JSON-LD), for systems that take those."""
