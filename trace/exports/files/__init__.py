"""A paper as data: JSON (which is what its fingerprint is taken of), CSV and XLSX, with the same names in each."""
