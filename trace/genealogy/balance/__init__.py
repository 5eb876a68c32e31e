"""Mass balances: what came, where it is now, and whether weighing explains what is missing."""
