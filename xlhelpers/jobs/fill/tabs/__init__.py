"""The result tabs of a fill, one module a tab."""
