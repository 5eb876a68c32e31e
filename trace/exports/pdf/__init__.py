"""A paper as PDF for A4: the title block on every sheet, lists whole, rows never split, drawings as on the desk."""
