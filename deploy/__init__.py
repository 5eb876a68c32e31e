"""Sets up and runs the project: the demo, the tests and the private PostgreSQL."""
