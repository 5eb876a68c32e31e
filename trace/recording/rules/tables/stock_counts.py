"""Rules of counting a place by scanning."""

from trace.recording.rules.engine import Rule

STOCK_COUNTS = (
    Rule("STOCK-COUNT-OPEN", ("stock_count_begun",), ("stock",), "stock.open",
         "{stock[place]} is being counted already.", "Two counts of one place would each miss what the other saw.",
         "Go on with the one that is open.", fixed=True),
    Rule("STOCK-COUNT-UNKNOWN", ("stock_seen", "stock_count_ended"), ("stock",), "stock.unknown",
         "No such stock count was begun.", "What is seen belongs to a count of a place.",
         "Scan the place and begin one.", basic=True, fixed=True),
    Rule("STOCK-COUNT-OVER", ("stock_seen", "stock_count_ended"), ("stock",), "stock.over",
         "This stock count is over.", "It was ended, and what was not found by then is a question.",
         "Scan the place and begin another.", fixed=True),
    Rule("STOCK-EMPTY", ("stock_seen",), ("stock",), "stock.empty",
         "Nothing is in {stock[name]} by the book.", "What is empty is not counted.",
         "If something is in it, put it aside and tell the shift lead.", basic=True, fixed=True),
    Rule("STOCK-ELSEWHERE", ("stock_seen",), ("stock",), "stock.elsewhere",
         "By the book {stock[name]} stands in {stock[book]}.", "It was seen in {stock[place]}.",
         "The book now says {stock[place]}; the question is open.", verdict="warn"),
    Rule("STOCK-NO-REASON", ("stock_count_ended",), ("stock",), "stock.no_reason",
         "Not found: {stock[lost]}: {stock[names]}.", "What is missing is not taken off the book; it is asked about.",
         "Look once more, then write what you know of it.", fixed=True),
)  # fmt: skip
