"""Plant data by kind, each kind said once: its fields, who may change it; forms, checks and tables come out of it."""
