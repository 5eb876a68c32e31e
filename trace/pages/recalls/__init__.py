"""Recalls at the desk: the notice put together, letters and lists by consignee, what they answer, how far it is."""
