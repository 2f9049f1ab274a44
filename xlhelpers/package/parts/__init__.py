"""The parts of a workbook, their relations, XML and styles."""
