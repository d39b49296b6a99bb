"""What the user states: tube, skin, ribs, material, load cases, mold. No mechanics here."""
