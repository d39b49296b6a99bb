"""The commands: one module each, declared in `table`; no numbers of their own."""
