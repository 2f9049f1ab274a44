"""Several workbooks of one survey put together."""
