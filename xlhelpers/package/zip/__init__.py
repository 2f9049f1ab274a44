"""The file as a whole: its entries, refusals, and safe writing."""
