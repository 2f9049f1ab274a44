"""The .xlsx file format: parts, cells, formats and grafted sheets; nothing of trees."""
