"""The survey as tables in memory; this room knows no cell and no file."""
