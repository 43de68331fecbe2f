"""The circuit of one plant in one state, and its flows and pressures."""
