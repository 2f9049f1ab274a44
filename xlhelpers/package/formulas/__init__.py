"""Formulas of a workbook: understood, written, and stale results dropped."""
