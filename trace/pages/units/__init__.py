"""The page of anything else with a code: what it is, what went in and out, and its history."""
