"""The sheet of a balance: the flow, its figures with the records they add up, and what weighing explains."""
