"""What the desk's sheets are filled from: the truth tables alone, as they were known at a moment."""
