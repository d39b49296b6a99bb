"""What `gridshell mold` shows: table and JSON."""

from __future__ import annotations

from typing import Any

from gridshell.mold.pieces.mold_set import describe
from gridshell.report.jobs.mold import REMEDY, MoldJob
from gridshell.report.numbers import shown, table
from gridshell.report.sentences import in_units

MOLD_CAUTION = (
    "CAUTION: hot melts burn, cutters maim, resins sensitize; read pour-sheet.txt, wear what",
    "it says, and follow local rules and licensed practice.",
)
DIRECT_CAUTION = (
    "CAUTION: cutters maim, chips and nozzles burn; read making-sheet.txt, wear what it says,",
    "and follow local rules and licensed practice.",
)


def mold_json(job: MoldJob) -> dict[str, Any]:
    """JSON of a mold job, SI.

    Keys: folder, files; part_volume (m3, of one plain casting), part_volumes (of each kind);
    pour_mass (kg, for the heaviest casting with gate and spare); pieces: name, role, quantity;
    faulty: pieces not written, with the reason; solids: valid, closed, watertight, volume (m3),
    faces, triangles, mesh_volume, step_volume (m3), step_faces; checks: name, value, limit (SI
    unit of their kind), verdict, advice, source; shrinkage, factor (mold over part), notes."""
    about = describe(job.molds)
    return {
        "title": job.molds.design.title,
        "folder": str(job.folder),
        "files": list(job.files),
        "part_volume": job.part_volumes[0] if job.part_volumes else None,
        "part_volumes": list(job.part_volumes),
        "pour_mass": job.pour_mass,
        **about,
        "solids": [
            {
                "name": s.name, "valid": s.valid, "closed": s.closed, "watertight": s.watertight,
                "volume": s.volume, "faces": s.faces, "triangles": s.triangles,
                "mesh_volume": s.mesh_volume, "step_volume": s.step_volume,
                "step_faces": s.step_faces,
            }
            for s in job.solids
        ],
        "faulty": dict(job.faulty),
        "checks": job.checks.as_list(),
    }


def mold_text(job: MoldJob, system: str = "metric") -> str:
    """The table of a mold job: the worst verdict first."""
    order = {"fails": 0, "caution": 1, "not known": 2, "ok": 3}
    checks = sorted(job.checks.checks, key=lambda c: order.get(c.verdict, 4))
    rows = [[check.verdict, check.name, in_units(check.advice, system)] for check in checks]
    quantity = {piece.name: piece.quantity for piece in job.molds.pieces}
    solids = [
        [s.name, str(quantity[s.name]), shown(s.volume, "volume", system),
         " x ".join(shown(high - low, "length", system, 4).split()[0]
                    for low, high in zip(*s.bounds, strict=True)),
         f"{s.faces:,}", "valid, closed, watertight"]
        for s in job.solids
    ]
    unit = "in" if system == "inch" else "mm"
    direct = job.molds.mold.direct
    work = f"making the part, {job.molds.mold.process}" if direct else "work with the molds"
    pour = "" if direct else f"; pour {shown(job.pour_mass, 'mass', system)} for one casting"
    return "\n".join([
        job.molds.design.title, "",
        *(f"NOT WRITTEN, faulty: {name}: {why}; {REMEDY}" for name, why in job.faulty.items()),
        f"{work}: {job.checks.verdict}{pour}", "",
        table(rows, ["verdict", "check", "reason, advice"]), "",
        table(solids, ["piece", "make", "volume", f"size [{unit}]", "faces", "solid"]), "",
        *(f"note: {in_units(note, system)}" for note in job.molds.notes),
        f"wrote {len(job.files)} files to {job.folder}",
        *(DIRECT_CAUTION if direct else MOLD_CAUTION),
    ])
