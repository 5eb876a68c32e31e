"""Complaints and the cases they are looked into in: the pages of the desk."""
