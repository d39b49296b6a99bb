"""Tubes with a deviation imposed, pushed past their highest load as one mesh of solid elements."""
