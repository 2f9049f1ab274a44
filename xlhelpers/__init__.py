"""Raw readings of a town's tree survey in, heights that can be trusted and summary tabs out.

The flow of the main job, left to right; a room imports only rooms to its left:

    measure  ->  fields  ->  survey  ->  package  ->  workbook  ->  commands  ->  excel, cli
    formulas     columns     tables,     the file     sheets and    one screen   the doors
                             checks      format       tabs          each
"""

__version__ = "1.0.0"
