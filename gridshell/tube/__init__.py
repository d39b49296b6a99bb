"""The whole tube: section stiffness, deflection, vibration, buckling, strength, margins."""
