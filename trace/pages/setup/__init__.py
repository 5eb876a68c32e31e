"""Plant data at the desk: lists by kind, one thing with its revisions, and a new revision as its body."""
