"""The bar of one tree as formulas: its layers, and the label below it.

The same layers as those of `xlhelpers.workbook.tabs.crown_bars`. A layer that is not there is an
empty text, which a stacked chart draws without any height.
"""

from collections.abc import Mapping

from xlhelpers.workbook.tabs.crown_bars import LAYERS

__all__ = ["LABEL", "LAYERS", "layer_formulas", "layer_values"]

LABEL = "label"
# heights that differ by less are one
_SAME = 1e-9


def layer_formulas(cells: Mapping[str, str]) -> dict[str, str]:
    """Return the formulas of the label and of each layer.

    Parameters
    ----------
    cells : mapping
        The cells of `tree`, `gravest`, `condition`, `total_height`, `crown_base`, `crown_top`.
    """
    base, top, total = (cells[key] for key in ("crown_base", "crown_top", "total_height"))
    dead, foot = f'{cells["condition"]}="dead"', f"MAX({base},0)"
    known = f"AND(ISNUMBER({base}),ISNUMBER({top}),ISNUMBER({total}))"
    between = f"AND({foot}<{top},{top}<={total}+{_SAME:.9f},NOT({dead}))"
    crowned = f"IF({known},{between},FALSE)"
    above = f'IF({top}<{total}-{_SAME:.9f},{total}-{top},"")'
    return {
        LABEL: f'IF({cells["gravest"]}="",{cells["tree"]},{cells["tree"]}&" ?")',
        "stem": f'IF({crowned},{foot},"")',
        "crown": f'IF({crowned},{top}-{foot},"")',
        "dead_top": f'IF({crowned},{above},"")',
        "dead_tree": f'IF(AND({dead},ISNUMBER({total})),{total},"")',
        "height_only": f'IF(OR({dead},NOT(ISNUMBER({total})),{crowned}),"",{total})',
    }


def layer_values(values: Mapping[str, float | str]) -> dict[str, float | str]:
    """Return what these formulas give for the values of their cells."""
    base, top, total = (values[key] for key in ("crown_base", "crown_top", "total_height"))
    dead = values["condition"] == "dead"
    label = f"{values['tree']} ?" if values["gravest"] else values["tree"]
    found: dict[str, float | str] = {LABEL: label, **dict.fromkeys(LAYERS, "")}
    if not isinstance(total, float):
        return found
    if dead:
        return found | {"dead_tree": total}
    if isinstance(base, float) and isinstance(top, float):
        foot = max(base, 0.0)
        if foot < top <= total + _SAME:
            above = total - top if top < total - _SAME else ""
            return found | {"stem": foot, "crown": top - foot, "dead_top": above}
    return found | {"height_only": total}
