"""A local page to choose rib sizes by looking: sliders, map, section, part and molds in 3-D."""
