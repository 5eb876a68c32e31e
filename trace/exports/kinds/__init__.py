"""The kinds of paper, one file each: what is asked for in, a Paper out. table.py lists them."""
