"""The cells of one sheet: read as arrays, written into the sheet's own XML."""
