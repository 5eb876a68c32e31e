"""Complaints and cases as known at a moment: what stands in their events, folded."""
