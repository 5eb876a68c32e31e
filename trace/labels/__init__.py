"""Labels: what a symbol holds, how each stock is laid out, and the PDF that goes to the printer."""
