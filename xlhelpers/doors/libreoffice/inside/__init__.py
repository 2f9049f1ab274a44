"""What runs inside LibreOffice, in its own Python: the standard library and uno, nothing else.

The modules are copied into the extension. LibreOffice may bring a Python as old as 3.8.
"""
