"""Sheets of one workbook brought into another."""
