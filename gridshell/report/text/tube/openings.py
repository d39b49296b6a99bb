"""The tube of shells with its cut-outs, beside the published rule, in words."""

from __future__ import annotations

from gridshell.proof.shells.openings import OpeningsResult
from gridshell.report.numbers import shown


def openings_text(result: OpeningsResult, system: str) -> str:
    """The printed answer of ``prove --cut-outs``."""
    allowed = result.rule * result.knockdown
    head = (
        f"cut-outs leave {result.left:.2f} of the buckling load in compression; tube allows "
        f"{allowed:.2f} of it ({result.rule:.2f} by the rule for holes, {result.knockdown:.2f} for "
        "imperfect shape)" + (
            ", on the safe side" if result.safe else
            f": multiply its general instability by {result.left / allowed:.2f}")
    )
    return "\n".join((
        head,
        f"  shells with cut-outs     {shown(result.open_load, 'force', system)}",
        f"  shells without           {shown(result.closed_load, 'force', system)}",
        f"  formula without          {shown(result.formula_load, 'force', system)}",
        f"  {result.facets[0]} x {result.facets[1]} facets, {result.removed} taken out; smeared "
        "wall that ends at the opening, no land round it, perfect shape, no knockdown factor",
    ))
