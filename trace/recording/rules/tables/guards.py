"""Names for the kinds of event and the roles that several tables of rules use."""

ALL = ("*",)
QUALITY = ("quality", "deputy")
LEADS = ("lead", "quality", "deputy")
INTO_LOAD = ("inserts_placed", "graphic_placed", "tipped")
DRAWS = ("weighed", "inserts_placed", "graphic_placed", "topped_up", "repaired")
# Acts by which something leaves a container for good; what waits or is held may leave so.
OUT = ("stock_scrapped", "given_back", "sampled")
