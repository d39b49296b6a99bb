"""Cautions, shown where they belong."""

from __future__ import annotations

from gridshell.define.constants import DRY_ICE_TEMPERATURE
from gridshell.define.tables.chill import Chill

COLD = ("Cold burns: below about -20 degC skin freezes on contact; insulating gloves and eye "
        "cover, no bare hands on the tube, the coolant or anything metal that was in it. Follow "
        "the rules of your workplace and the local law for handling cold things.")
DRY_ICE = ("Dry ice turns into carbon dioxide, heavier than air: people suffocate in closed rooms, "
           "cellars, pits and vehicles. Outdoors or with strong ventilation only, never in a "
           "closed container (it bursts), and never ride with it in a closed car. Buying, "
           "carrying, mailing and using it follow local rules and its seller's safety data sheet; "
           "they come before anything said here.")
LIQUEFIED = ("Colder than dry ice means a liquefied gas: it boils in the open, pushes the air out "
             "of a room, condenses oxygen and bursts anything closed. Trained people only, by the "
             "rules of the site and the local law.")
BRITTLE = ("A chilled tube can break under load, or with none, without warning and in sharp "
           "pieces: handle it at arm's length with eye cover, and prove it unloaded first.")
FLIGHT = ("If it flies: only under a recognized safety code, with a range officer and the "
          "distances that the code asks for. This check is no license to fly.")


def chill_cautions(chill: Chill, material: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Cautions that go with the steps as stated, then those of the material.

    Args:
        chill: the ``[chill]`` table.
        material: cautions of the material.
    """
    dry_ice = any(
        step.kind == "dry-ice" or step.inside == "dry-ice"
        or (step.kind == "contact" and step.surroundings <= DRY_ICE_TEMPERATURE + 5)
        for step in chill.steps) or chill.uncovered.inside == "dry-ice"
    coldest = min(step.surroundings for step in chill.steps)
    found = [COLD] if coldest < 258.15 else []
    if dry_ice:
        found.append(DRY_ICE)
    if coldest < DRY_ICE_TEMPERATURE - 1:
        found.append(LIQUEFIED)
    return (*found, BRITTLE, FLIGHT, *material)
