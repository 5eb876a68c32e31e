"""The desk: sheets, lists and searches."""
